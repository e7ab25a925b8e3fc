using System.Collections.Immutable;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>
/// All that can be changed while a chart is played, at one moment. Immutable: a change makes a new one, and to go back is to take an old one
/// again, so that the bars that follow are those of before, bit for bit. Not where the music is.
/// </summary>
public sealed record PerformanceState
{
    /// <summary>The chart with all that was changed in it; levels and pans stand in its parts.</summary>
    public required Chart Chart { get; init; }

    /// <summary>The instruments that can be asked for.</summary>
    public required InstrumentCatalogue Instruments { get; init; }

    /// <summary>How much faster than the chart says; takes effect at once.</summary>
    public Rational Speed { get; init; } = Rational.One;

    /// <summary>Names of the parts that are muted.</summary>
    public ImmutableSortedSet<string> Muted { get; init; } = [];

    /// <summary>Names of the parts that are heard alone; empty for all.</summary>
    public ImmutableSortedSet<string> Solo { get; init; } = [];

    /// <summary>Level of the whole, in dB.</summary>
    public double MasterDecibels { get; init; }

    /// <summary>Whether a restart counts in.</summary>
    public bool CountIn { get; init; } = true;

    /// <summary>The beats to which the player goes back from feeling the whole bar; null for the groups.</summary>
    public FeltLevel? Beats { get; init; }

    /// <summary>How the form goes on.</summary>
    public FormOrders Orders { get; init; } = FormOrders.None;

    /// <summary>
    /// The state in which a chart begins: felt and counted levels are said in every section, so that a nudge of the tempo turns none of them.
    /// </summary>
    /// <exception cref="ChartProblemException">The chart cannot be played.</exception>
    public static PerformanceState Opening(Chart chart, InstrumentCatalogue instruments) => new() { Chart = chart.WithLevelsSaid(), Instruments = instruments };

    /// <summary>The form as it repeats: a tag belongs to its end only.</summary>
    public FormPlan Plan => new(Chart with { Tag = [] });

    /// <summary>The bar that a change refers to: the one that plays, or the first.</summary>
    public BarPlace BarAt(PerformancePlace place)
    {
        var bar = Plan.BarAt(Math.Max(0, place.Index));

        // The bar groups are those that sound; the section is the whole one.
        return Orders.Loop is { } loop
            ? bar with { GroupPlace = new FormPlan(Chart with { Tag = [] }, loop: loop).BarAt(bar.Index).GroupPlace }
            : bar;
    }

    /// <summary>The factor between the tempo as written and as it sounds once a ramp is over.</summary>
    public Rational Pace => Speed * (Orders.Ramp?.To ?? Rational.One);

    /// <summary>The factor between the tempo as written and as it sounds in a bar of the performance.</summary>
    public Rational PaceIn(int ordinal) => Speed * (Orders.Ramp?.At(ordinal, Rational.Zero) ?? Rational.One);

    /// <summary>The tempo that sounds at the start of a bar.</summary>
    public Tempo TempoIn(BarPlace bar, int ordinal) => new(bar.Tempo.WholesPerMinute * PaceIn(ordinal));

    /// <summary>The state with other orders of the form.</summary>
    internal PerformanceState Ordered(Func<FormOrders, FormOrders> change) => this with { Orders = change(Orders) };

    /// <summary>A part that is not heard, muted or because others play alone.</summary>
    public bool IsSilent(Part part) => Muted.Contains(part.Name) || (!Solo.IsEmpty && !Solo.Contains(part.Name));

    /// <summary>True when the other state has the same bars in the same order: it differs in levels at most.</summary>
    public bool SoundsTheSameNotes(PerformanceState other) =>
        Speed == other.Speed && Orders == other.Orders && (ReferenceEquals(Chart, other.Chart) || SameBut(Chart, other.Chart));

    // A level or a pan is the mix's matter, and no reason to compose.
    private static bool SameBut(Chart a, Chart b) =>
        a with { Parts = b.Parts } == b
        && a.Parts.Count == b.Parts.Count
        && a.Parts.Zip(b.Parts).All(pair =>
            pair.First with { LevelDecibels = 0, Pan = 0 } == pair.Second with { LevelDecibels = 0, Pan = 0 });
}

/// <summary>
/// How the form goes on, beside what the chart says. Bars are named by their number in the endless form; moments by their ordinal, the bars
/// of the performance counted as they are played. Immutable.
/// </summary>
public sealed record FormOrders
{
    /// <summary>Nothing asked: the form goes round.</summary>
    public static FormOrders None { get; } = new();

    /// <summary>Bars that go round; null for none.</summary>
    public BarLoop? Loop { get; init; }

    /// <summary>What the loop is called on the screen.</summary>
    public string LoopName { get; init; } = string.Empty;

    /// <summary>Runs whose vamp was told to go on.</summary>
    public ImmutableSortedSet<int> Released { get; init; } = [];

    /// <summary>After the bar of that ordinal comes the bar of that number.</summary>
    public ImmutableSortedDictionary<int, int> Jumps { get; init; } = ImmutableSortedDictionary<int, int>.Empty;

    /// <summary>So many bars of the endless form, and then the end; null to go round.</summary>
    public int? EndBar { get; init; }

    /// <summary>From the bar of that ordinal on the bar is held; null for none.</summary>
    public int? HoldFrom { get; init; }

    /// <summary>The bars, by ordinal, in which the band breaks off: from the first up to, not including, the second.</summary>
    public (int From, int End)? Break { get; init; }

    /// <summary>A gradual change of tempo; null for none.</summary>
    public TempoRamp? Ramp { get; init; }

    /// <inheritdoc/>
    public bool Equals(FormOrders? other) =>
        other is not null && Loop == other.Loop && EndBar == other.EndBar && HoldFrom == other.HoldFrom && Break == other.Break
        && Ramp == other.Ramp && Released.SetEquals(other.Released) && Jumps.SequenceEqual(other.Jumps);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Loop, EndBar, HoldFrom, Break, Ramp, Released.Count, Jumps.Count);
}

/// <summary>A gradual change of tempo, on top of the speed: from one factor to another over so many bars, and there it stays.</summary>
/// <param name="FromOrdinal">The bar of the performance in which it begins.</param>
/// <param name="Bars">How many bars it takes; 0 for a factor that stands.</param>
/// <param name="From">Factor before it.</param>
/// <param name="To">Factor after it.</param>
public sealed record TempoRamp(int FromOrdinal, int Bars, Rational From, Rational To)
{
    /// <summary>The factor at a place of a bar, <paramref name="done"/> of 1 of it.</summary>
    public Rational At(int ordinal, Rational done) => Bars == 0 ? To : new Ramp(From, To).At((ordinal - FromOrdinal + done) / Bars);
}
