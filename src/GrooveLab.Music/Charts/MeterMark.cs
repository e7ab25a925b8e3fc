using GrooveLab.Music.Meter;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Charts;

/// <summary>Reads a meter as a musician writes it in a chart or types it: "5/8 3+2", or "5/8" with the grouping that was said before.</summary>
public static class MeterMark
{
    /// <summary>The meter; null with the problem when it cannot be read.</summary>
    /// <param name="text">The meter; blanks around it and between its two halves do not matter.</param>
    /// <param name="said">Meters said before, whose groupings hold for the same time signature without one; null for none.</param>
    /// <param name="accepted">What to say is accepted where the problem itself does not say it.</param>
    /// <param name="problem">What is wrong, and what is accepted.</param>
    public static BarMeter? Read(string text, IEnumerable<BarMeter>? said, string accepted, out (string What, string Accepted)? problem)
    {
        var body = text.Trim();
        var plain = string.Join(' ', body.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
        if (BarMeter.TryParse(plain, out var meter, out var wrong))
        {
            problem = null;
            return HasGrouping(text) ? meter : said?.FirstOrDefault(other => other.Signature == meter.Signature) ?? meter;
        }

        problem = body.Contains(',')
            ? ($"{Words.Quote(body)} is not one meter", "meters that alternate stand in a list: [\"5/8 3+2\", \"7/8 2+2+3\"]")
            : Words.Split(wrong, accepted);
        return null;
    }

    /// <summary>Whether the text says a grouping of its own.</summary>
    public static bool HasGrouping(string text) => text.Trim().Contains(' ');
}
