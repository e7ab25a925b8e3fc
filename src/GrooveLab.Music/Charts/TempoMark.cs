using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>What a tempo counts.</summary>
public enum TempoLevel
{
    /// <summary>A note value or another fraction of a whole note.</summary>
    Note,

    /// <summary>The meter's unit.</summary>
    Unit,

    /// <summary>A group of the bar, if all groups have one length.</summary>
    Group,

    /// <summary>The bar.</summary>
    Bar,

    /// <summary>The bar group.</summary>
    BarGroup,
}

/// <summary>A tempo as written in a chart: "eighth = 300", "bar = 60", "bar group = 14". It becomes a <see cref="Tempo"/> at the bar
/// where it is written.</summary>
/// <param name="Level">What it counts.</param>
/// <param name="Note">The note's length when <paramref name="Level"/> is <see cref="TempoLevel.Note"/>; else zero.</param>
/// <param name="PerMinute">Number per minute.</param>
public readonly record struct TempoMark(TempoLevel Level, Span Note, Rational PerMinute)
{
    /// <summary>Slowest tempo accepted, in whole notes per minute.</summary>
    public static readonly Rational Slowest = new(1, 4);

    /// <summary>Fastest tempo accepted, in whole notes per minute.</summary>
    public static readonly Rational Fastest = 1000;

    /// <summary>How far a tempo that is written as a readable number may be from the exact one: 0.05 %.</summary>
    public static readonly Rational Rounding = new(5, 10_000);

    /// <summary>Whether a tempo in whole notes per minute is accepted: a limit that was rounded to a readable number still is.</summary>
    public static bool IsAccepted(Rational wholesPerMinute) =>
        wholesPerMinute >= Slowest * (1 - Rounding) && wholesPerMinute <= Fastest * (1 + Rounding);

    /// <summary>Decimals of a written tempo.</summary>
    public const int MostDecimals = 5;

    // The engine's speeds are ratios of numbers up to 16,384, so a tempo that was typed sounds this near to it.
    private static readonly Rational OfSpeeds = new(1, 16_384);

    /// <summary>The tempo with a readable number: the one that was typed, or one with at least two decimals that is off by no more than
    /// <see cref="Rounding"/>.</summary>
    public TempoMark Rounded()
    {
        var scale = 1L;
        for (var decimals = 1; decimals <= MostDecimals; decimals++)
        {
            scale *= 10;
            var near = new Rational((PerMinute * scale).Round(), scale);
            var allowed = decimals == 1 ? OfSpeeds : Rounding;
            if (near.Sign > 0 && ((near - PerMinute).Abs() <= PerMinute * allowed || decimals == MostDecimals))
            {
                return this with { PerMinute = near };
            }
        }

        return this;
    }

    /// <summary>The tempo itself if its number has at most <see cref="MostDecimals"/> decimals; otherwise a readable number near it.</summary>
    public TempoMark Writable() => (PerMinute * 100_000).IsInteger ? this : Rounded();

    /// <summary>The tempo at a bar of that meter in a bar group of that length.</summary>
    /// <exception cref="ChartProblemException">It counts groups and the groups differ, or it is out of range.</exception>
    public Tempo At(BarMeter meter, Span barGroup)
    {
        var beat = Level switch
        {
            TempoLevel.Note => Note,
            TempoLevel.Unit => meter.Unit,
            TempoLevel.Group when meter.GroupSizes.Distinct().Count() == 1 => meter.Unit * meter.GroupSizes[0],
            TempoLevel.Group => throw new ChartProblemException(
                $"a tempo per group needs groups of one length, but those of {meter} differ; use the unit, a note or the bar"),
            TempoLevel.Bar => meter.Length,
            _ => barGroup,
        };
        var wholes = beat.Wholes * PerMinute;
        return !IsAccepted(wholes)
            ? throw new ChartProblemException(
                $"the tempo {this} makes {Decimals.Of(wholes)} whole notes per minute; {Slowest} to {Fastest} are accepted")
            : new Tempo(wholes);
    }

    /// <summary>"eighth = 300".</summary>
    public override string ToString() => $"{LevelName} = {Decimals.Of(PerMinute)}";

    private string LevelName => Level switch
    {
        TempoLevel.Note => NoteValue.NameOf(Note),
        TempoLevel.Unit => "unit",
        TempoLevel.Group => "group",
        TempoLevel.Bar => "bar",
        _ => "bar group",
    };
}

/// <summary>A change of tempo at a section's start: a new tempo, a ramp, or both.</summary>
/// <param name="From">The tempo at the start; null keeps the one before.</param>
/// <param name="To">The tempo that a ramp reaches; null for no ramp.</param>
/// <param name="OverBars">Length of the ramp in bars; null for the whole section.</param>
public sealed record TempoChange(TempoMark? From, TempoMark? To, int? OverBars)
{
    /// <summary>The tempo after the section; null to keep the one that it has reached.</summary>
    public TempoAfter? After { get; init; }
}

/// <summary>The tempo after a change of tempo has ended.</summary>
/// <param name="Mark">The tempo; null for the one before the change ("a tempo").</param>
public readonly record struct TempoAfter(TempoMark? Mark);

/// <summary>A gradual change of tempo over some bars of a section: a ritardando or an accelerando.</summary>
/// <param name="To">The tempo that it reaches, as said of its first bar.</param>
/// <param name="First">Its first bar in the section, from 1; 0 when it is counted from the section's end.</param>
/// <param name="Last">Its last bar; when <paramref name="First"/> is 0, its number of bars, which are the section's last.</param>
public sealed record TempoRise(TempoMark To, int First, int Last)
{
    /// <summary>The tempo after it; null to keep the one that it has reached.</summary>
    public TempoAfter? After { get; init; }

    /// <summary>Its bars in a section of that length, from 0, the second exclusive; may lie outside the section.</summary>
    public (int From, int End) BarsIn(int bars) => First == 0 ? (bars - Last, bars) : (First - 1, Last);
}

/// <summary>How a section's tempo relates to the section before: which lengths have equal duration.</summary>
/// <param name="BarsEqual">True when the old bar lasts as long as the new bar.</param>
/// <param name="Before">Otherwise a length in the section before …</param>
/// <param name="After">… that lasts as long as this one here.</param>
public sealed record TempoJoin(bool BarsEqual, Span Before, Span After);
