using GrooveLab.Music.Meter;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Charts;

/// <summary>Reads a meter from a chart or from input: "5/8 3+2", or "5/8" with an earlier grouping.</summary>
public static class MeterMark
{
    /// <summary>The meter; null with the problem when it is not valid.</summary>
    /// <param name="text">The meter; spaces around it and between its two halves are ignored.</param>
    /// <param name="said">Earlier meters, whose groupings apply to the same time signature without a grouping; null for none.</param>
    /// <param name="accepted">The accepted input, if the problem itself does not name it.</param>
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
            ? ($"{Words.Quote(body)} is not one meter", "write alternating meters as a list: [\"5/8 3+2\", \"7/8 2+2+3\"]")
            : Words.Split(wrong, accepted);
        return null;
    }

    /// <summary>True when the text has its own grouping.</summary>
    public static bool HasGrouping(string text) => text.Trim().Contains(' ');
}
