using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Time;

/// <summary>A length in musical time, as an exact fraction of a whole note (1/8 is an eighth). Not seconds, ticks or a place.</summary>
public readonly record struct Span(Rational Wholes) : IComparable<Span>
{
    /// <summary>Zero length.</summary>
    public static Span Zero => default;

    /// <summary>A length of <paramref name="numerator"/> notes of the value 1/<paramref name="denominator"/>.</summary>
    public static Span Of(long numerator, long denominator) => new(new Rational(numerator, denominator));

    /// <summary>Sum.</summary>
    public static Span operator +(Span a, Span b) => new(a.Wholes + b.Wholes);

    /// <summary>Difference; may be negative.</summary>
    public static Span operator -(Span a, Span b) => new(a.Wholes - b.Wholes);

    /// <summary>Negation.</summary>
    public static Span operator -(Span a) => new(-a.Wholes);

    /// <summary>The length times a factor.</summary>
    public static Span operator *(Span a, Rational times) => new(a.Wholes * times);

    /// <summary>The length divided by a number.</summary>
    public static Span operator /(Span a, Rational parts) => new(a.Wholes / parts);

    /// <summary>How many times <paramref name="b"/> fits into <paramref name="a"/>.</summary>
    public static Rational operator /(Span a, Span b) => a.Wholes / b.Wholes;

    /// <summary>True when shorter.</summary>
    public static bool operator <(Span a, Span b) => a.Wholes < b.Wholes;

    /// <summary>True when longer.</summary>
    public static bool operator >(Span a, Span b) => a.Wholes > b.Wholes;

    /// <summary>True when shorter or equal.</summary>
    public static bool operator <=(Span a, Span b) => a.Wholes <= b.Wholes;

    /// <summary>True when longer or equal.</summary>
    public static bool operator >=(Span a, Span b) => a.Wholes >= b.Wholes;

    /// <summary>The shorter of two.</summary>
    public static Span Min(Span a, Span b) => a <= b ? a : b;

    /// <summary>The longer of two.</summary>
    public static Span Max(Span a, Span b) => a >= b ? a : b;

    /// <inheritdoc/>
    public int CompareTo(Span other) => Wholes.CompareTo(other.Wholes);

    /// <summary>The fraction of a whole note.</summary>
    public override string ToString() => Wholes.ToString();

    /// <summary>Reads a fraction of a whole note.</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out Span span)
    {
        var ok = Rational.TryParse(text, out var wholes);
        span = new Span(wholes);
        return ok;
    }
}
