using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes the swing of a chart: "2:1", or 1.5 as the ratio of first to second half.</summary>
internal static class SwingText
{
    private const string Accepted =
        "write the long half to the short one, such as swing = \"2:1\" or \"3:2\" (whole numbers to 1000), or swing = 1.5; from 1 (even) to 3";

    private static readonly Rational Most = 3;

    /// <summary>The swing; null if the key is missing or wrong, which is then reported.</summary>
    public static Rational? Read(TableKeys keys, Problems problems)
    {
        var value = keys.Entry("swing")?.Value;
        if (value is null)
        {
            return null;
        }

        var swing = value switch
        {
            TomlInteger { Value: >= 1 and <= 3 } whole => whole.Value,
            TomlFloat { Value: >= 1 and <= 3 } real => Number(real.Value),
            TomlString text => Ratio(text.Value),
            _ => null,
        };
        if (swing is { } read && read >= Rational.One && read <= Most)
        {
            return read;
        }

        problems.Add(value is TomlString said ? said.PlaceOf(0) : value.Start, "swing is neither a ratio nor a number from 1 to 3", Accepted);
        return null;
    }

    /// <summary>The swing as a ratio.</summary>
    public static string Write(Rational swing) => $"{swing.Numerator}:{swing.Denominator}";

    // Three decimals are finer than the ear can hear, and keep fractions of a bar short.
    private static Rational? Number(double value) => new Rational((long)Math.Round(value * 1000), 1000);

    private static Rational? Ratio(string text)
    {
        var sides = text.Split(':');
        return sides.Length == 2 && Side(sides[0]) is { } first && Side(sides[1]) is { } second ? new Rational(first, second) : null;
    }

    private static int? Side(string text) =>
        int.TryParse(text.Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number is >= 1 and <= 1000 ? number : null;
}
