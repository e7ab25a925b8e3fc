using System.Globalization;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Inputs;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Pack;

/// <summary>What a rehearsal pack contains.</summary>
internal sealed record PackSettings
{
    /// <summary>The most tempi of a pack.</summary>
    public const int MostTempi = 8;

    /// <summary>The tempi, in percent of the chart's, in the order of the index page.</summary>
    public IReadOnlyList<Rational> Tempi { get; init; } = [70, 85, 100];

    /// <summary>The singers whose keys are added.</summary>
    public IReadOnlyList<PackSinger> Singers { get; init; } = [];

    /// <summary>The format of the sound files.</summary>
    public SoundFormat Sound { get; init; } = SoundFormat.Opus;

    /// <summary>Reads tempi in percent, such as <c>70,85,100</c>.</summary>
    /// <param name="text">The text.</param>
    /// <exception cref="CommandFailure">It is no such list.</exception>
    public static IReadOnlyList<Rational> ReadTempi(string text)
    {
        var tempi = new List<Rational>();
        foreach (var word in text.Split(',', StringSplitOptions.TrimEntries))
        {
            if (!Rational.TryParse(word.EndsWith('%') ? word[..^1] : word, out var percent) || percent < 5 || percent > 500 || percent.Denominator > 100)
            {
                throw CommandFailure.BadInput($"--tempi: '{word}' is no tempo; write percent of the chart's tempo, from 5 to 500, with commas, such as 70,85,100");
            }

            if (!tempi.Contains(percent))
            {
                tempi.Add(percent);
            }
        }

        return tempi.Count <= MostTempi ? tempi : throw CommandFailure.BadInput($"--tempi: at most {MostTempi} tempi, not {tempi.Count}");
    }

    /// <summary>A tempo for a file's name: "70 percent".</summary>
    public static string InWords(Rational percent) => percent.ToDouble().ToString("0.##", CultureInfo.InvariantCulture) + " percent";
}

/// <summary>A singer of a pack: with a key, or with a range from which each song's key follows.</summary>
/// <param name="Name">The name.</param>
/// <param name="Key">The key; null for a range.</param>
/// <param name="Low">The lowest note; null for a key.</param>
/// <param name="High">The highest note; null for a key.</param>
internal sealed record PackSinger(string Name, Key? Key, Pitch? Low, Pitch? High)
{
    /// <summary>Reads <c>NAME=KEY</c> or <c>NAME=LOW-HIGH</c>.</summary>
    /// <param name="text">The text.</param>
    /// <exception cref="CommandFailure">It is neither.</exception>
    public static PackSinger Read(string text)
    {
        var sign = text.IndexOf('=', StringComparison.Ordinal);
        var name = sign < 0 ? string.Empty : text[..sign].Trim();
        var value = sign < 0 ? string.Empty : text[(sign + 1)..].Trim();
        if (name.Length == 0 || value.Length == 0)
        {
            throw CommandFailure.BadInput($"--singer {text}: write a name and a key, such as Mara=E, or a name and a range, such as Mara=A3-D5");
        }

        var dash = value.IndexOf('-', 1);
        if (dash > 0 && Pitch.TryParse(value[..dash].Trim(), out var low) && Pitch.TryParse(value[(dash + 1)..].Trim(), out var high))
        {
            return low.Midi < high.Midi
                ? new PackSinger(name, null, low, high)
                : throw CommandFailure.BadInput($"--singer {text}: the lower note comes first, such as Mara=A3-D5");
        }

        return Key.TryParse(value, out var key, out var problem)
            ? new PackSinger(name, key, null, null)
            : throw CommandFailure.BadInput($"--singer {text}: {problem}; or write a range, such as {name}=A3-D5");
    }
}
