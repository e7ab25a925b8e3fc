namespace GrooveLab.Music.Time;

/// <summary>A tempo in whole notes per minute, exact. It is independent of the beat: the same tempo reads "eighth = 300" or, in 5/8, "bar
/// = 60".</summary>
public readonly record struct Tempo : IComparable<Tempo>
{
    /// <summary>The largest denominator of a tempo that is to be multiplied further.</summary>
    internal const long LargestDenominator = 1_000_000;

    /// <summary>Creates a tempo.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Zero or negative.</exception>
    public Tempo(Rational wholesPerMinute)
    {
        if (wholesPerMinute.Sign <= 0)
        {
            throw new ArgumentOutOfRangeException(nameof(wholesPerMinute), "The tempo must be above zero.");
        }

        WholesPerMinute = wholesPerMinute;
    }

    /// <summary>Whole notes per minute.</summary>
    public Rational WholesPerMinute { get; }

    /// <summary>The tempo at which <paramref name="beat"/> occurs <paramref name="perMinute"/> times per minute.</summary>
    public static Tempo Of(Span beat, Rational perMinute) => new(beat.Wholes * perMinute);

    /// <summary>A tempo that can be multiplied further: exact up to a millionth of a whole note a minute, which is not heard. After many changes the exact number has
    /// more digits than a fraction holds.</summary>
    public static Tempo Multipliable(Rational wholesPerMinute) => new(wholesPerMinute.Within(LargestDenominator));

    /// <summary>The tempo multiplied by a factor, as a tempo that can be multiplied further.</summary>
    public Tempo Times(Rational factor) => new(WholesPerMinute.TimesWithin(factor, LargestDenominator));

    /// <summary>True when slower.</summary>
    public static bool operator <(Tempo a, Tempo b) => a.CompareTo(b) < 0;

    /// <summary>True when faster.</summary>
    public static bool operator >(Tempo a, Tempo b) => a.CompareTo(b) > 0;

    /// <summary>True when slower or equal.</summary>
    public static bool operator <=(Tempo a, Tempo b) => a.CompareTo(b) <= 0;

    /// <summary>True when faster or equal.</summary>
    public static bool operator >=(Tempo a, Tempo b) => a.CompareTo(b) >= 0;

    /// <summary>Number of <paramref name="beat"/>s per minute.</summary>
    public Rational PerMinute(Span beat) => WholesPerMinute / beat.Wholes;

    /// <summary>The duration of <paramref name="length"/> in seconds, exact.</summary>
    public Rational Seconds(Span length) => length.Wholes * 60 / WholesPerMinute;

    /// <inheritdoc/>
    public int CompareTo(Tempo other) => WholesPerMinute.CompareTo(other.WholesPerMinute);
}
