using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Meter;

/// <summary>The two numbers of a time signature: the number of units in a bar and the unit as a fraction of a whole note. It does not say
/// how the units are grouped; <see cref="BarMeter"/> does.</summary>
public readonly record struct TimeSignature
{
    /// <summary>The largest number of units in a bar.</summary>
    public const int LargestNumerator = 64;

    /// <summary>The largest denominator: the smallest unit is a sixty-fourth.</summary>
    public const int LargestDenominator = 64;

    /// <summary>Creates a time signature; any denominator is valid, a power of two or not (7/12).</summary>
    /// <exception cref="ArgumentOutOfRangeException">A number outside 1-64.</exception>
    public TimeSignature(int numerator, int denominator)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(numerator, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(numerator, LargestNumerator);
        ArgumentOutOfRangeException.ThrowIfLessThan(denominator, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(denominator, LargestDenominator);
        Numerator = numerator;
        Denominator = denominator;
    }

    /// <summary>Units in a bar, 1-64.</summary>
    public int Numerator { get; }

    /// <summary>The denominator, 1-64: a unit is one over this of a whole note.</summary>
    public int Denominator { get; }

    /// <summary>The length of a unit.</summary>
    public Span Unit => Span.Of(1, Denominator);

    /// <summary>The length of a bar.</summary>
    public Span Bar => Span.Of(Numerator, Denominator);

    /// <summary>Reads "5/8".</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out TimeSignature signature)
    {
        signature = default;
        var parts = text?.Split('/') ?? [];
        if (parts.Length != 2
            || !int.TryParse(parts[0].Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var above)
            || !int.TryParse(parts[1].Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var below)
            || above is < 1 or > LargestNumerator
            || below is < 1 or > LargestDenominator)
        {
            return false;
        }

        signature = new TimeSignature(above, below);
        return true;
    }

    /// <summary>"5/8".</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Numerator}/{Denominator}");
}
