using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Time;

/// <summary>A written note value: whole to sixty-fourth with up to two dots. A length outside these, such as a twelfth of a whole note,
/// has no name here and is written as a fraction.</summary>
public static class NoteValue
{
    private static readonly (string Name, string Other, int Denominator)[] Names =
    [
        ("whole", "semibreve", 1),
        ("half", "minim", 2),
        ("quarter", "crotchet", 4),
        ("eighth", "quaver", 8),
        ("sixteenth", "semiquaver", 16),
        ("thirty-second", "demisemiquaver", 32),
        ("sixty-fourth", "hemidemisemiquaver", 64),
    ];

    /// <summary>The names without dots, long notes first: "whole", "half", "quarter".</summary>
    public static IReadOnlyList<string> AllNames { get; } = [.. Names.Select(name => name.Name)];

    /// <summary>The name of a length ("dotted quarter"), or its fraction of a whole note if it has no name ("1/12").</summary>
    public static string NameOf(Span length)
    {
        foreach (var (name, _, denominator) in Names)
        {
            var plain = new Rational(1, denominator);
            if (length.Wholes == plain)
            {
                return name;
            }

            if (length.Wholes == plain * new Rational(3, 2))
            {
                return "dotted " + name;
            }

            if (length.Wholes == plain * new Rational(7, 4))
            {
                return "double dotted " + name;
            }
        }

        return length.Wholes.IsInteger ? $"{length}/1" : length.ToString();
    }

    /// <summary>The plural of the name ("eighths", "dotted halves"); null when the length has no name.</summary>
    public static string? PluralOf(Span length)
    {
        var name = NameOf(length);
        return char.IsAsciiLetter(name[0]) ? PluralOf(name) : null;
    }

    /// <summary>Reads a name ("dotted quarter", "quaver", "eighths") or a fraction of a whole note ("3/8").</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out Span length)
    {
        length = default;
        if (text is null)
        {
            return false;
        }

        var body = text.Trim().ToLowerInvariant();
        var factor = Rational.One;
        if (body.StartsWith("double dotted ", StringComparison.Ordinal))
        {
            factor = new Rational(7, 4);
            body = body["double dotted ".Length..];
        }
        else if (body.StartsWith("dotted ", StringComparison.Ordinal))
        {
            factor = new Rational(3, 2);
            body = body["dotted ".Length..];
        }

        body = body.Trim();
        if (body.EndsWith(" note", StringComparison.Ordinal))
        {
            body = body[..^" note".Length].Trim();
        }

        foreach (var (name, other, denominator) in Names)
        {
            if (body == name || body == other || body == PluralOf(name) || body == PluralOf(other))
            {
                length = new Span(new Rational(1, denominator) * factor);
                return true;
            }
        }

        if (factor == Rational.One && body.Contains('/') && Rational.TryParse(body, out var wholes) && wholes > Rational.Zero)
        {
            length = new Span(wholes);
            return true;
        }

        return false;
    }

    private static string PluralOf(string name) =>
        name.EndsWith("half", StringComparison.Ordinal) ? name[..^1] + "ves" : name + "s";
}
