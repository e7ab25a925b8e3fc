namespace GrooveLab.Music.Time;

/// <summary>
/// How fast musical time goes, in whole notes a minute, exactly. Not tied to a beat: the same tempo reads "eighth = 300" or,
/// in 5/8, "bar = 60".
/// </summary>
public readonly record struct Tempo : IComparable<Tempo>
{
    /// <summary>Makes a tempo.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Not above zero.</exception>
    public Tempo(Rational wholesPerMinute)
    {
        if (wholesPerMinute.Sign <= 0)
        {
            throw new ArgumentOutOfRangeException(nameof(wholesPerMinute), "A tempo is above zero.");
        }

        WholesPerMinute = wholesPerMinute;
    }

    /// <summary>Whole notes a minute.</summary>
    public Rational WholesPerMinute { get; }

    /// <summary>The tempo at which <paramref name="beat"/> comes <paramref name="perMinute"/> times a minute.</summary>
    public static Tempo Of(Span beat, Rational perMinute) => new(beat.Wholes * perMinute);

    /// <summary>Slower.</summary>
    public static bool operator <(Tempo a, Tempo b) => a.CompareTo(b) < 0;

    /// <summary>Faster.</summary>
    public static bool operator >(Tempo a, Tempo b) => a.CompareTo(b) > 0;

    /// <summary>Not faster.</summary>
    public static bool operator <=(Tempo a, Tempo b) => a.CompareTo(b) <= 0;

    /// <summary>Not slower.</summary>
    public static bool operator >=(Tempo a, Tempo b) => a.CompareTo(b) >= 0;

    /// <summary>How many of <paramref name="beat"/> come in a minute.</summary>
    public Rational PerMinute(Span beat) => WholesPerMinute / beat.Wholes;

    /// <summary>How long <paramref name="length"/> lasts, in seconds, exactly.</summary>
    public Rational Seconds(Span length) => length.Wholes * 60 / WholesPerMinute;

    /// <inheritdoc/>
    public int CompareTo(Tempo other) => WholesPerMinute.CompareTo(other.WholesPerMinute);
}
