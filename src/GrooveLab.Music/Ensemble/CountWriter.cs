using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes the count: clicks on the felt beats or on another chosen level. It has no human feel.</summary>
internal static class CountWriter
{
    /// <summary>The clicks for a band without a count part: only before the start.</summary>
    public static Part ForTheLeadIn { get; } = new()
    {
        Name = "count-in",
        Role = Role.Count,
        Instrument = new Instrument { Name = "clicks", Technique = Technique.Click, Lowest = 0, Highest = 127, Program = 0 },
        Lowest = 0,
        Highest = 127,
        LevelDecibels = -3,
        Settings = new CountSettings { On = CountOn.Nothing },
    };

    public static void Write(BarDraft draft, int part)
    {
        var place = draft.Place;
        var on = ((CountSettings)draft.Band.Parts[part].Settings).On;
        var level = on switch
        {
            CountOn.Felt => place.Felt,
            CountOn.Units => FeltLevel.Unit,
            CountOn.Groups => FeltLevel.Group,
            _ => FeltLevel.Bar,
        };
        if (on == CountOn.Nothing)
        {
            return;
        }

        foreach (var click in Clicks(part, place, level.BeatsIn(place.Meter, place.GroupPlace)))
        {
            draft.Add(click, (int)(click.Onset / place.Meter.Unit).Numerator);
        }
    }

    /// <summary>The clicks for places of a bar, in order; on paper each lasts to the next click or the end of the bar.</summary>
    public static IEnumerable<NoteEvent> Clicks(int part, BarPlace place, IReadOnlyList<Span> beats) => beats.Select((beat, i) =>
        Click(part, place, beat, i + 1 < beats.Count ? beats[i + 1] : place.Length));

    // The higher the level, the higher and louder the click.
    private static NoteEvent Click(int part, BarPlace place, Span offset, Span until)
    {
        var unit = (int)(offset / place.Meter.Unit).Numerator;
        var depth = place.Meter.UnitDepths[unit];
        var (key, velocity) = depth == 0
            ? (place.GroupPlace is { IsFirst: true, Size: > 1 } ? (CountKeys.BarGroup, 112) : (CountKeys.Bar, 100))
            : depth <= place.Meter.Grouping.Depth ? (CountKeys.Group, 86) : (CountKeys.Unit, 68);
        return new NoteEvent
        {
            Part = part,
            Role = Role.Count,
            Onset = offset,
            Length = place.Meter.Unit / 4,
            Key = key,
            Unpitched = true,
            Velocity = velocity,
            Written = new WrittenOrigin { Pitch = null, Onset = offset, Length = until - offset },
        };
    }
}
