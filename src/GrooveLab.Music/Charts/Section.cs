using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>What is counted: the units or the groups.</summary>
public enum Counted
{
    /// <summary>Units.</summary>
    Units,

    /// <summary>Groups.</summary>
    Groups,
}

/// <summary>A bar of a chart.</summary>
/// <param name="Meter">Its meter.</param>
/// <param name="Chords">Its chords, in order and without gaps.</param>
/// <param name="Inserted">True for a single bar in another meter: it belongs to the bar group before it.</param>
public sealed record ChartBar(BarMeter Meter, IReadOnlyList<ChordSpan> Chords, bool Inserted)
{
    /// <summary>The bar before its meter was changed while playing, to which it returns with that meter; null for a bar as written.</summary>
    public ChartBar? Before { get; init; }
}

/// <summary>A named stretch of bars.</summary>
public sealed record Section
{
    /// <summary>Its name, as used in the form.</summary>
    public required string Name { get; init; }

    /// <summary>Its bars; never empty.</summary>
    public required IReadOnlyList<ChartBar> Bars { get; init; }

    /// <summary>True when its meter is written in the section itself and not only at the top of the chart. It sounds the same.</summary>
    public bool HasOwnMeter { get; init; }

    /// <summary>How its bars group.</summary>
    public required BarGroups BarGroups { get; init; }

    /// <summary>The endings that follow its bars, one for each playing; empty for none. The last one serves all later playings.</summary>
    public IReadOnlyList<SectionEnding> Endings { get; init; } = [];

    /// <summary>A change of tempo at its start; null for none.</summary>
    public TempoChange? Tempo { get; init; }

    /// <summary>Changes of tempo over some of its bars, such as a ritardando at its end; usually none. They do not overlap.</summary>
    public IReadOnlyList<TempoRise> Ramps { get; init; } = [];

    /// <summary>How its tempo relates to the section before; null keeps note values equal.</summary>
    public TempoJoin? Join { get; init; }

    /// <summary>The felt level, if it differs from the chart's.</summary>
    public FeltLevel? Feel { get; init; }

    /// <summary>What is counted, if it differs from the chart's.</summary>
    public Counted? Counted { get; init; }

    /// <summary>The key, if it differs from the chart's.</summary>
    public Key? Key { get; init; }

    /// <summary>The melody; null for none.</summary>
    public Tune? Tune { get; init; }

    /// <summary>The indices of the parts that play; null for all. The count always plays.</summary>
    public IReadOnlyList<int>? Playing { get; init; }

    /// <summary>True for stop-time: the band plays only the downbeats; tune and count continue.</summary>
    public bool StopTime { get; init; }

    /// <summary>Number of bars at its end that form a break: the band plays the first downbeat and then rests while tune and count
    /// continue. 0 for none.</summary>
    public int BreakBars { get; init; }

    /// <summary>Seconds for which its last bar is held: all play its downbeat and let it ring, the count rests and then counts the band
    /// in on the bar's last group. 0 for no hold.</summary>
    public int HoldSeconds { get; init; }

    /// <summary>What it says about its arrangement; null for nothing.</summary>
    public SectionOrders? Orders { get; init; }

    /// <summary>True for a vamp: live, it repeats until released; in a file it is played as often as the form says.</summary>
    public bool Vamp { get; init; }
}

/// <summary>An ending of a section: the bars that follow the section's own bars in some of its playings.</summary>
/// <param name="Bars">Its bars; never empty.</param>
/// <param name="Tune">Its part of the melody; null for none. A pickup fills a rest at the end of the section's own bars. Each of its verses
/// belongs to one playing of the ending, in order.</param>
public sealed record SectionEnding(IReadOnlyList<ChartBar> Bars, Tune? Tune);

/// <summary>A step of the form: a section and its number of repeats.</summary>
/// <param name="Section">Index of the section in the chart.</param>
/// <param name="Times">Times in a row, at least 1.</param>
public readonly record struct FormStep(int Section, int Times)
{
    /// <summary>Largest transposition, in half steps up or down.</summary>
    public const int MostUp = 12;

    /// <summary>Half steps up, negative for down; 0 for the written key.</summary>
    public int Up { get; init; }

    /// <summary>The number of the ending, from 1, that each of its playings takes; null to take the endings in order.</summary>
    public int? Ending { get; init; }
}

/// <summary>A written song or groove. Immutable: a change creates a new chart.</summary>
public sealed record Chart
{
    /// <summary>Its title.</summary>
    public required string Title { get; init; }

    /// <summary>Its key.</summary>
    public required Key Key { get; init; }

    /// <summary>Its tempo at the start.</summary>
    public required TempoMark Tempo { get; init; }

    /// <summary>What is counted; null derives it from meter and tempo.</summary>
    public Counted? Counted { get; init; }

    /// <summary>The level felt as the beat; null derives it from what is counted.</summary>
    public FeltLevel? Feel { get; init; }

    /// <summary>The band; never empty.</summary>
    public required IReadOnlyList<Part> Parts { get; init; }

    /// <summary>The sections; never empty.</summary>
    public required IReadOnlyList<Section> Sections { get; init; }

    /// <summary>The sections in playing order; never empty.</summary>
    public required IReadOnlyList<FormStep> Form { get; init; }

    /// <summary>Times the whole form is played, at least 1.</summary>
    public int Times { get; init; } = 1;

    /// <summary>Played once after the last time through, before the ending; usually empty.</summary>
    public IReadOnlyList<FormStep> Tag { get; init; } = [];

    /// <summary>The chord of the ringing bar at the end; null for the tonic chord of the key.</summary>
    public ChordSymbol? EndingChord { get; init; }

    /// <summary>True when a ringing bar ends the piece.</summary>
    public bool Ending { get; init; } = true;

    /// <summary>The random seed.</summary>
    public ulong Seed { get; init; } = 1;

    /// <summary>Human feel, 0 (exact) to 2 (loose); 1 sounds like a good band.</summary>
    public double Looseness { get; init; } = 1;

    /// <summary>How much longer a group of three units is played than a group of two, 1.2 to 1.5; 1.5 is even units.</summary>
    public double GroupRatio { get; init; } = GroupTiming.Even;

    /// <summary>Swing ratio: how much longer the first half of a swung quarter is than the second, 1 (even) to 3. If the unit is an
    /// eighth, its sixteenths lilt by a fraction of it.</summary>
    public Rational Swing { get; init; } = Rational.One;

    /// <summary>Seconds of an unmeasured drone on the key's tonic and fifth before the lead-in, 0 to 60.</summary>
    public int DroneSeconds { get; init; }

    /// <summary>What the chart trains, one line for the player; null for none.</summary>
    public string? Trains { get; init; }

    /// <summary>A starting tempo for learners; null for none.</summary>
    public TempoMark? LearnerTempo { get; init; }

    /// <summary>True to arrange the form: the band thins, fills, rises and rests as its sections suggest. False for a band that plays every
    /// section plainly.</summary>
    public bool IsArranged { get; init; } = true;

    /// <summary>What it says about being moved into another meter; null for nothing.</summary>
    public RecastNotes? Recast { get; init; }
}
