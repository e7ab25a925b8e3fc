using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>One pair of a time signature: beats, perhaps a sum, over a unit: 3+2 over 8.</summary>
public sealed record MeterPair
{
    /// <summary>Makes a pair.</summary>
    /// <param name="beats">The numbers of the sum, each at least 1; a single one where there is no sum.</param>
    /// <param name="beatType">The unit is one over this of a whole note, at least 1.</param>
    /// <exception cref="ArgumentException">No number, or one below 1.</exception>
    public MeterPair(ValueList<int> beats, int beatType)
    {
        if (beats.Count == 0 || beats.Any(beat => beat < 1) || beatType < 1)
        {
            throw new ArgumentException("A time signature has numbers of at least 1.", nameof(beats));
        }

        Beats = beats;
        BeatType = beatType;
    }

    /// <summary>The numbers of the sum, in order.</summary>
    public ValueList<int> Beats { get; }

    /// <summary>The unit is one over this of a whole note.</summary>
    public int BeatType { get; }

    /// <summary>The length of all its beats.</summary>
    public Span Length => Span.Of(Beats.Sum(beat => (long)beat), BeatType);

    /// <summary>"3+2/8".</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{string.Join('+', Beats)}/{BeatType}");
}

/// <summary>
/// A time signature as written: one pair, several (3/8 + 2/4), additive or not, or none at all (senza misura).
/// </summary>
public sealed record WrittenMeter
{
    /// <summary>Makes a time signature; without pairs it is senza misura.</summary>
    public WrittenMeter(params ReadOnlySpan<MeterPair> pairs) => Pairs = ValueList.Create(pairs);

    /// <summary>The pairs, which follow each other in the measure; none for senza misura.</summary>
    public ValueList<MeterPair> Pairs { get; }

    /// <summary>The sign in place of the absent meter; empty for none. Null for a measured one.</summary>
    public string? SenzaMisura => Pairs.Count == 0 ? SenzaMisuraSign : null;

    /// <summary>The sign that stands for senza misura, often empty.</summary>
    public string SenzaMisuraSign { get; init; } = "";

    /// <summary>How it is drawn: "common", "cut", "single-number" and so on; null for plain numbers.</summary>
    public string? Symbol { get; init; }

    /// <summary>How its units are grouped where that is known beyond what the numbers say; null where it is not.</summary>
    public Grouping? Grouping { get; init; }

    /// <summary>A second signature between which and this one the measures alternate at will; null for none.</summary>
    public WrittenMeter? Interchangeable { get; init; }

    /// <summary>How the second signature stands beside the first: "parentheses", "slash" and so on; null where not said.</summary>
    public string? Relation { get; init; }

    /// <summary>True when it holds and is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>The length of a full measure; null for senza misura.</summary>
    public Span? Length => Pairs.Count == 0 ? null : Pairs.Aggregate(Span.Zero, (sum, pair) => sum + pair.Length);

    /// <summary>A time signature of a chart's meter. Its grouping is kept; it is written as a sum only when the meter is one of unlike groups.</summary>
    public static WrittenMeter Of(BarMeter meter)
    {
        var groups = meter.Grouping.Groups;
        var additive = groups.Distinct().Skip(1).Any();
        return new WrittenMeter(new MeterPair(additive ? [.. groups] : [meter.Signature.Numerator], meter.Signature.Denominator))
        {
            Grouping = meter.Grouping,
        };
    }

    /// <summary>
    /// The meter in the terms of the band: pairs brought to their common unit, the sum taken as the grouping unless one is known, else the usual
    /// one.
    /// </summary>
    /// <returns>Null for senza misura and for what a bar cannot have (more than 64 units, a unit finer than a sixty-fourth).</returns>
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

/// <summary>An accidental of a key signature that is not the usual row of sharps or flats.</summary>
/// <param name="Letter">The letter it alters.</param>
/// <param name="Alter">Semitones.</param>
/// <param name="Sign">The sign, in MusicXML's words; null where it follows from the alteration.</param>
public sealed record KeyAccidental(NoteLetter Letter, Rational Alter, string? Sign);

/// <summary>The octave in which an accidental of a key signature stands.</summary>
/// <param name="Accidental">Which accidental, from 1.</param>
/// <param name="Octave">The octave.</param>
/// <param name="Cancels">True for a natural that takes back an accidental of the signature before; null where not said.</param>
public readonly record struct KeyOctave(int Accidental, int Octave, bool? Cancels);

/// <summary>A key signature as written: sharps or flats with a mode if one is said, or accidentals of its own.</summary>
public sealed record WrittenKey
{
    /// <summary>Makes a usual key signature.</summary>
    /// <param name="fifths">Sharps (positive) or flats (negative), -14 to 14.</param>
    /// <param name="mode">The mode as written, such as "major" or "dorian"; null where it is not said.</param>
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

    /// <summary>Makes a key signature with accidentals of its own; none for open key.</summary>
    public WrittenKey(ValueList<KeyAccidental> accidentals) => Accidentals = accidentals;

    /// <summary>Sharps (positive) or flats (negative); null for one with accidentals of its own.</summary>
    public int? Fifths { get; }

    /// <summary>The mode as written; null where it is not said.</summary>
    public string? Mode { get; }

    /// <summary>Accidentals of its own; empty for a usual one.</summary>
    public ValueList<KeyAccidental> Accidentals { get; } = [];

    /// <summary>The octaves of its accidentals, where they are said.</summary>
    public ValueList<KeyOctave> Octaves { get; init; } = [];

    /// <summary>Sharps or flats of the signature before that are taken back by naturals; null where not said.</summary>
    public int? Cancels { get; init; }

    /// <summary>True when it holds and is not printed.</summary>
    public bool IsHidden { get; init; }

    /// <summary>A key signature of a key.</summary>
    public static WrittenKey Of(Key key) => new(key.Fifths, key.Mode.ToString().ToLowerInvariant());

    /// <summary>The key.</summary>
    /// <returns>Null where the mode is not said or not known, and beyond seven sharps or flats.</returns>
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
