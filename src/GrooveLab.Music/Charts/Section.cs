using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>What is counted: the units or the groups.</summary>
public enum Counted
{
    /// <summary>Each unit.</summary>
    Units,

    /// <summary>Each group.</summary>
    Groups,
}

/// <summary>A bar as a chart has it.</summary>
/// <param name="Meter">Its meter.</param>
/// <param name="Chords">Its chords, in order and without gaps.</param>
/// <param name="Inserted">True for a single bar in another meter: it belongs to the bar group before it.</param>
public sealed record ChartBar(BarMeter Meter, IReadOnlyList<ChordSpan> Chords, bool Inserted);

/// <summary>A stretch of bars with a name.</summary>
public sealed record Section
{
    /// <summary>Its name, as the form calls it.</summary>
    public required string Name { get; init; }

    /// <summary>Its bars; never empty.</summary>
    public required IReadOnlyList<ChartBar> Bars { get; init; }

    /// <summary>How its bars group.</summary>
    public required BarGroups BarGroups { get; init; }

    /// <summary>A change of tempo at its start; null for none.</summary>
    public TempoChange? Tempo { get; init; }

    /// <summary>How its time joins the section before; null keeps note values equal.</summary>
    public TempoJoin? Join { get; init; }

    /// <summary>The felt level, when it differs from the chart's.</summary>
    public FeltLevel? Feel { get; init; }

    /// <summary>What is counted, when it differs from the chart's.</summary>
    public Counted? Counted { get; init; }

    /// <summary>The key, when it differs from the chart's.</summary>
    public Key? Key { get; init; }

    /// <summary>The melody; null without one.</summary>
    public Tune? Tune { get; init; }

    /// <summary>The indices of the parts that play; null for all. The count plays in any case.</summary>
    public IReadOnlyList<int>? Playing { get; init; }

    /// <summary>True for stop-time: the band strikes each downbeat and leaves the rest to the tune and the count.</summary>
    public bool StopTime { get; init; }

    /// <summary>
    /// So many bars at its end are a break: the band strikes the first downbeat of them and rests, while tune and count go on. 0 for none.
    /// </summary>
    public int BreakBars { get; init; }

    /// <summary>
    /// So many seconds its last bar is held: all strike its downbeat and let it sound, the count rests, and then counts the band in again on
    /// the bar's last group. 0 for no hold.
    /// </summary>
    public int HoldSeconds { get; init; }

    /// <summary>True for a vamp: played live it goes round until told to go on; in a file it is played as often as the form says.</summary>
    public bool Vamp { get; init; }
}

/// <summary>A step of the form: a section, so many times.</summary>
/// <param name="Section">Index of the section in the chart.</param>
/// <param name="Times">How often in a row, at least 1.</param>
public readonly record struct FormStep(int Section, int Times);

/// <summary>A song or groove as a musician writes it down. Immutable: a change makes a new one.</summary>
public sealed record Chart
{
    /// <summary>Its title.</summary>
    public required string Title { get; init; }

    /// <summary>Its key.</summary>
    public required Key Key { get; init; }

    /// <summary>Its tempo at the start.</summary>
    public required TempoMark Tempo { get; init; }

    /// <summary>What is counted; null leaves it to meter and tempo.</summary>
    public Counted? Counted { get; init; }

    /// <summary>Which level is felt as the beat; null leaves it to what is counted.</summary>
    public FeltLevel? Feel { get; init; }

    /// <summary>The band; never empty.</summary>
    public required IReadOnlyList<Part> Parts { get; init; }

    /// <summary>The sections; never empty.</summary>
    public required IReadOnlyList<Section> Sections { get; init; }

    /// <summary>The order in which they are played; never empty.</summary>
    public required IReadOnlyList<FormStep> Form { get; init; }

    /// <summary>How often the whole form is played, at least 1.</summary>
    public int Times { get; init; } = 1;

    /// <summary>What is played once more after the last time through, before the ending; usually nothing.</summary>
    public IReadOnlyList<FormStep> Tag { get; init; } = [];

    /// <summary>The chord of the ringing bar at the end; null for the key's own.</summary>
    public ChordSymbol? EndingChord { get; init; }

    /// <summary>True: a last ringing bar follows the form.</summary>
    public bool Ending { get; init; } = true;

    /// <summary>Where chance starts from.</summary>
    public ulong Seed { get; init; } = 1;

    /// <summary>Human feel, 0 (exact) to 2 (loose); 1 is a good band.</summary>
    public double Looseness { get; init; } = 1;

    /// <summary>
    /// How much longer the first half of a swung quarter is than the second, 1 (even) to 3; where the unit is an eighth its sixteenths lilt
    /// by a little of it.
    /// </summary>
    public Rational Swing { get; init; } = Rational.One;

    /// <summary>Seconds of an unmeasured drone on the key's tonic and fifth before the lead-in, 0 to 60.</summary>
    public int DroneSeconds { get; init; }

    /// <summary>What the chart trains, in a line for whoever practises it; null when it does not say.</summary>
    public string? Trains { get; init; }

    /// <summary>A tempo to begin with; null when it does not say.</summary>
    public TempoMark? LearnerTempo { get; init; }
}
