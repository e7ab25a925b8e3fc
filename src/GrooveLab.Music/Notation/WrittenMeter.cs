using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>One pair of a time signature: beats, possibly a sum, over a unit: 3+2 over 8.</summary>
public sealed record MeterPair
{
    /// <summary>Creates a pair.</summary>
    /// <param name="beats">The numbers of the sum, each at least 1; a single number without a sum.</param>
    /// <param name="beatType">The denominator, at least 1: the unit is one over this of a whole note.</param>
    /// <exception cref="ArgumentException">No number, or one below 1.</exception>
    public MeterPair(ValueList<int> beats, int beatType)
    {
        if (beats.Count == 0 || beats.Any(beat => beat < 1) || beatType < 1)
        {
            throw new ArgumentException("The numbers of a time signature must be at least 1.", nameof(beats));
        }

        Beats = beats;
        BeatType = beatType;
    }

    /// <summary>The numbers of the sum, in order.</summary>
    public ValueList<int> Beats { get; }

    /// <summary>The denominator: the unit is one over this of a whole note.</summary>
    public int BeatType { get; }

    /// <summary>The total length of its beats.</summary>
    public Span Length => Span.Of(Beats.Sum(beat => (long)beat), BeatType);

    /// <summary>"3+2/8".</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{string.Join('+', Beats)}/{BeatType}");
}

/// <summary>A written time signature: one pair, several (3/8 + 2/4), additive or not, or none (senza misura).</summary>
public sealed record WrittenMeter
{
    /// <summary>Creates a time signature; without pairs it is senza misura.</summary>
    public WrittenMeter(params ReadOnlySpan<MeterPair> pairs) => Pairs = ValueList.Create(pairs);

    /// <summary>The pairs, in order in the measure; none for senza misura.</summary>
    public ValueList<MeterPair> Pairs { get; }

    /// <summary>The sign for senza misura; empty for no sign, null with a meter.</summary>
    public string? SenzaMisura => Pairs.Count == 0 ? SenzaMisuraSign : null;

    /// <summary>The sign for senza misura, often empty.</summary>
    public string SenzaMisuraSign { get; init; } = "";

    /// <summary>How it is drawn: "common", "cut", "single-number" and so on; null for plain numbers.</summary>
    public string? Symbol { get; init; }

    /// <summary>The grouping of its units, if known beyond the written numbers; otherwise null.</summary>
    public Grouping? Grouping { get; init; }

    /// <summary>A second signature with which this one alternates freely; null for none.</summary>
    public WrittenMeter? Interchangeable { get; init; }

    /// <summary>How the second signature is separated from the first: "parentheses", "slash" and so on; null if not given.</summary>
    public string? Relation { get; init; }

    /// <summary>True when it applies but is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The length of a full measure; null for senza misura.</summary>
    public Span? Length => Pairs.Count == 0 ? null : Pairs.Aggregate(Span.Zero, (sum, pair) => sum + pair.Length);

    /// <summary>The time signature of a chart meter. Keeps the grouping; writes a sum only if the groups differ.</summary>
    public static WrittenMeter Of(BarMeter meter)
    {
        var groups = meter.Grouping.Groups;
        var additive = groups.Distinct().Skip(1).Any();
        return new WrittenMeter(new MeterPair(additive ? [.. groups] : [meter.Signature.Numerator], meter.Signature.Denominator))
        {
            Grouping = meter.Grouping,
        };
    }

    /// <summary>The meter as used by the band: pairs converted to their common unit; the grouping if known, otherwise the sum as
    /// grouping, otherwise the usual one.</summary>
    /// <returns>Null for senza misura and for meters that a bar cannot have (more than 64 units, a unit smaller than a
    /// sixty-fourth).</returns>
    public BarMeter? ToBarMeter()
    {
        if (Pairs.Count == 0)
        {
            return null;
        }

        var unit = Pairs.Aggregate(1L, (common, pair) => Lcm(common, pair.BeatType));
        var sizes = Pairs.SelectMany(pair => pair.Beats.Select(beat => beat * (unit / pair.BeatType))).ToArray();
        var sum = sizes.Sum();
        if (unit > TimeSignature.LargestDenominator || sum > TimeSignature.LargestNumerator)
        {
            return null;
        }

        var signature = new TimeSignature((int)sum, (int)unit);
        var grouping = Grouping?.Units == sum ? Grouping
            : sizes.Length > 1 ? Meter.Grouping.Of([.. sizes.Select(size => (int)size)])
            : Meter.Grouping.Usual(signature);
        return new BarMeter(signature, grouping);
    }

    /// <summary>"3+2/8", "3/8 + 2/4" or "senza misura".</summary>
    public override string ToString() => Pairs.Count == 0 ? "senza misura" : string.Join(" + ", Pairs);

    private static long Lcm(long a, long b)
    {
        var (x, y) = (a, b);
        while (y != 0)
        {
            (x, y) = (y, x % y);
        }

        return a / x * b;
    }
}

/// <summary>An accidental of a non-standard key signature.</summary>
/// <param name="Letter">The letter it alters.</param>
/// <param name="Alter">Semitones.</param>
/// <param name="Sign">The sign, in MusicXML's words; null if implied by the alteration.</param>
public sealed record KeyAccidental(NoteLetter Letter, Rational Alter, string? Sign);

/// <summary>The octave of an accidental in a key signature.</summary>
/// <param name="Accidental">The number of the accidental, from 1.</param>
/// <param name="Octave">The octave.</param>
/// <param name="Cancels">True for a natural that cancels an accidental of the previous signature; null if not given.</param>
public readonly record struct KeyOctave(int Accidental, int Octave, bool? Cancels);

/// <summary>A written key signature: sharps or flats with an optional mode, or its own list of accidentals.</summary>
public sealed record WrittenKey
{
    /// <summary>Creates a standard key signature.</summary>
    /// <param name="fifths">Sharps (positive) or flats (negative), -14 to 14.</param>
    /// <param name="mode">The mode as written, such as "major" or "dorian"; null if not given.</param>
    /// <exception cref="ArgumentOutOfRangeException">More than fourteen sharps or flats.</exception>
    public WrittenKey(int fifths, string? mode)
    {
        if (fifths is < -14 or > 14)
        {
            throw new ArgumentOutOfRangeException(nameof(fifths), fifths, "A key signature has at most fourteen sharps or flats.");
        }

        Fifths = fifths;
        Mode = mode;
    }

    /// <summary>Creates a key signature with its own accidentals; none for an open key.</summary>
    public WrittenKey(ValueList<KeyAccidental> accidentals) => Accidentals = accidentals;

    /// <summary>Sharps (positive) or flats (negative); null if it has its own accidentals.</summary>
    public int? Fifths { get; }

    /// <summary>The mode as written; null if not given.</summary>
    public string? Mode { get; }

    /// <summary>Its own accidentals; empty for a standard signature.</summary>
    public ValueList<KeyAccidental> Accidentals { get; } = [];

    /// <summary>The octaves of its accidentals, if given.</summary>
    public ValueList<KeyOctave> Octaves { get; init; } = [];

    /// <summary>Sharps or flats of the previous signature cancelled by naturals; null if not given.</summary>
    public int? Cancels { get; init; }

    /// <summary>True when it applies but is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The key signature of a key.</summary>
    public static WrittenKey Of(Key key) => new(key.Fifths, key.Mode.ToString().ToLowerInvariant());

    /// <summary>The key.</summary>
    /// <returns>Null if the mode is missing or unknown, or with more than seven sharps or flats.</returns>
    public Key? ToKey()
    {
        if (Fifths is not (>= -7 and <= 7) || !Enum.TryParse<KeyMode>(Mode, ignoreCase: true, out var mode) || !Enum.IsDefined(mode))
        {
            return null;
        }

        var tonic = mode switch
        {
            KeyMode.Minor or KeyMode.Aeolian => 3,
            KeyMode.Dorian => 2,
            KeyMode.Phrygian => 4,
            KeyMode.Lydian => -1,
            KeyMode.Mixolydian => 1,
            KeyMode.Locrian => 5,
            _ => 0,
        };
        return new Key(PitchName.FromFifths(Fifths.Value + tonic), mode);
    }
}
