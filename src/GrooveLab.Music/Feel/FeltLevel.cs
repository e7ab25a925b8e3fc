using GrooveLab.Music.Band;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>Which level of the meter is felt as the beat. All levels keep sounding.</summary>
public enum FeltLevel
{
    /// <summary>Each unit is a beat ("in five").</summary>
    Unit,

    /// <summary>Each group start is a beat ("in two", long and short).</summary>
    Group,

    /// <summary>The whole bar is one beat ("in one").</summary>
    Bar,

    /// <summary>The bars are counted, and their groups are the beats.</summary>
    BarGroup,
}

/// <summary>The words for the felt levels in charts, options and reports.</summary>
public static class FeltLevels
{
    /// <summary>"unit", "group", "bar" or "bar-group".</summary>
    public static string Name(this FeltLevel level) => level switch
    {
        FeltLevel.Unit => "unit",
        FeltLevel.Group => "group",
        FeltLevel.Bar => "bar",
        _ => "bar-group",
    };

    /// <summary>Reads a felt level; "bar group" with a space is accepted too.</summary>
    public static bool TryParse(string? text, out FeltLevel level)
    {
        switch (text?.Trim().ToLowerInvariant())
        {
            case "unit" or "units":
                level = FeltLevel.Unit;
                return true;
            case "group" or "groups":
                level = FeltLevel.Group;
                return true;
            case "bar" or "bars":
                level = FeltLevel.Bar;
                return true;
            case "bar-group" or "bar group" or "bar-groups" or "bar groups":
                level = FeltLevel.BarGroup;
                return true;
            default:
                level = default;
                return false;
        }
    }

    /// <summary>The places of the felt beats of a bar, from its bar line, ascending; none in a bar that does not start its bar group when
    /// whole bar groups are felt.</summary>
    public static IReadOnlyList<Span> BeatsIn(this FeltLevel level, BarMeter meter, BarGroupPlace place) => level switch
    {
        FeltLevel.Unit => [.. Enumerable.Range(0, meter.Units).Select(unit => meter.Unit * unit)],
        FeltLevel.Group => [.. meter.GroupStartUnits.Select(unit => meter.Unit * unit)],
        FeltLevel.Bar => [Span.Zero],
        _ => place.IsFirst ? [Span.Zero] : [],
    };
}
