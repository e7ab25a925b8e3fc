using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>The values of elements and attributes, checked: a number out of range is a fault with its line.</summary>
internal static class MusicXmlValues
{
    private const int MostDigits = 12;
    private const int MostDecimals = 9;

    /// <summary>A decimal number of the format: digits, perhaps with a sign and decimals; no exponent.</summary>
    /// <returns>False for anything else, and beyond twelve digits. Decimals after the ninth are cut off.</returns>
    public static bool TryNumber(string? text, out Rational number)
    {
        number = default;
        var rest = text.AsSpan().Trim();
        var isNegative = rest.StartsWith("-");
        rest = isNegative || rest.StartsWith("+") ? rest[1..] : rest;
        var dot = rest.IndexOf('.');
        var whole = dot < 0 ? rest : rest[..dot];
        var decimals = dot < 0 ? default : rest[(dot + 1)..];
        if (whole.Length + decimals.Length == 0 || !AreDigits(whole) || !AreDigits(decimals) || whole.TrimStart('0').Length > MostDigits)
        {
            return false;
        }

        decimals = decimals[..Math.Min(decimals.Length, MostDecimals)].TrimEnd('0');
        var above = whole.IsEmpty ? 0L : long.Parse(whole, NumberStyles.None, CultureInfo.InvariantCulture);
        var below = 1L;
        foreach (var digit in decimals)
        {
            if (above > long.MaxValue / 16)
            {
                return false;
            }

            above = (above * 10) + (digit - '0');
            below *= 10;
        }

        number = new Rational(isNegative ? -above : above, below);
        return true;
    }

    public static bool TryInt(string? text, out int number) =>
        int.TryParse(text.AsSpan().Trim(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out number);

    /// <summary>A whole number; null for none, or if it is not one.</summary>
    public static int? Int(string? text) => TryInt(text, out var number) ? number : null;

    /// <summary>A number that the element needs.</summary>
    /// <exception cref="MusicXmlFault">It is missing or no number.</exception>
    public static Rational Number(XmlItem item, string name)
    {
        var inside = Needed(item, name);
        return TryNumber(inside.Value, out var number) ? number : throw NoNumber(inside);
    }

    /// <summary>A whole number that the element needs.</summary>
    /// <exception cref="MusicXmlFault">It is missing, no whole number, or out of range.</exception>
    public static int Int(XmlItem item, string name, int least, int most)
    {
        var inside = Needed(item, name);
        if (!TryNumber(inside.Value, out var number) || !number.IsInteger)
        {
            throw NoNumber(inside);
        }

        return number >= least && number <= most
            ? (int)number.Numerator
            : throw new MusicXmlFault(inside.Line, string.Create(
                CultureInfo.InvariantCulture, $"{name} must be {least} to {most}, not '{Short(inside.Value)}'"));
    }

    /// <exception cref="MusicXmlFault">It is missing.</exception>
    public static XmlItem Needed(XmlItem item, string name) =>
        item.Element(name) ?? throw new MusicXmlFault(item.Line, $"the {item.Name} has no {name}");

    public static MusicXmlFault NoNumber(XmlItem item) => new(item.Line, $"{item.Name} must be a number, not '{Short(item.Value)}'");

    /// <exception cref="MusicXmlFault">It is missing or not A to G.</exception>
    public static NoteLetter Letter(XmlItem item, string name)
    {
        var step = Needed(item, name);
        return Enum.TryParse<NoteLetter>(step.Value.AsSpan().Trim(), ignoreCase: true, out var letter) && Enum.IsDefined(letter) && !char.IsAsciiDigit(step.Value.Trim()[0])
            ? letter
            : throw new MusicXmlFault(step.Line, $"{name} must be A to G, not '{Short(step.Value)}'");
    }

    /// <summary>A pitch.</summary>
    /// <exception cref="MusicXmlFault">It is incomplete or out of range.</exception>
    public static SpelledPitch Pitch(XmlItem pitch)
    {
        var letter = Letter(pitch, "step");
        var alter = pitch.Has("alter") ? Number(pitch, "alter") : Rational.Zero;
        return alter.Abs() <= SpelledPitch.FurthestAlter
            ? new SpelledPitch(letter, alter, Int(pitch, "octave", -2, 12))
            : throw new MusicXmlFault(pitch.Line, $"alter must be -4 to 4, not '{Short(pitch.Text("alter")!)}'");
    }

    public static StaffPosition? Position(XmlItem item) => item.Has("display-step") && TryInt(item.Text("display-octave"), out var octave)
        ? new StaffPosition(Letter(item, "display-step"), octave)
        : null;

    /// <summary>A note value; null for an unknown word or too many dots.</summary>
    public static NoteUnit? Unit(string? type, int dots) =>
        type is not null && MusicXmlWords.Base(type) is { } known && dots <= NoteUnit.MostDots ? new NoteUnit(known, dots) : null;

    public static bool? YesNo(string? text) => text switch { "yes" => true, "no" => false, _ => null };

    public static bool IsHidden(XmlItem item) => item.Attribute("print-object") == "no";

    /// <summary>The passes through a repeat: "1,2", "1-3", "1. 2.".</summary>
    /// <exception cref="MusicXmlFault">Not numbers from 1, or too many.</exception>
    public static ValueList<int> Passes(string? text, int line)
    {
        if (string.IsNullOrWhiteSpace(text))
        {
            return [];
        }

        if (text.Length == 1 && text[0] is >= '1' and <= '9')
        {
            return [text[0] - '0'];
        }

        var passes = new List<int>();
        foreach (var one in text.Replace(".", "", StringComparison.Ordinal).Split([',', ' ', ';'], StringSplitOptions.RemoveEmptyEntries))
        {
            var ends = one.Split('-');
            if (ends.Length > 2
                || !TryInt(ends[0], out var first) || !TryInt(ends[^1], out var last)
                || first < 1 || last < first || last > MusicXmlLimits.MostPasses)
            {
                throw new MusicXmlFault(line, $"'{Short(text)}' does not name passes of a repeat", "write numbers such as 1, 2");
            }

            passes.AddRange(Enumerable.Range(first, last - first + 1));
        }

        return [.. passes.Distinct()];
    }

    /// <summary>A text for a message: at most 40 characters, without line ends.</summary>
    public static string Short(string text)
    {
        var plain = string.Join(' ', text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        return plain.Length <= 40 ? plain : plain[..40] + "...";
    }

    private static bool AreDigits(ReadOnlySpan<char> text) => !text.ContainsAnyExceptInRange('0', '9');
}
