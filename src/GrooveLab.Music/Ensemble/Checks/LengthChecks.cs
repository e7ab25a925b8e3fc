using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks of note lengths: sustain, bows, space in the bass, swung notes, and notes after the end.</summary>
public static class LengthChecks
{
    private const double LongestBow = 6;
    private const double LeastBass = 40;
    private const double MostBass = 70;
    private const double LeastRinging = 70;
    private const double ShortestSwung = 100;

    /// <summary>All checks.</summary>
    public static IEnumerable<CheckResult> Of(BandBars band)
    {
        yield return SustainHoldsLongest(band);
        yield return Bows(band);
        yield return BassInBeats(band);
        yield return BassInOne(band);
        yield return SwungNotes(band);
        yield return RollAfterTheEnd(band);
    }

    /// <summary>The mean note length of the sustain, divided by that of the next longest role.</summary>
    public static CheckResult SustainHoldsLongest(BandBars band)
    {
        var means = band.FormNotes.Where(placed => !placed.IsGrace).GroupBy(placed => placed.Note.Role)
            .ToDictionary(role => role.Key, role => role.Average(placed => placed.Note.Length.Wholes.ToDouble()));
        var others = means.Where(role => role.Key != Role.Sustain).Select(role => role.Value).DefaultIfEmpty(0).Max();
        return new CheckResult
        {
            Name = "sustain length",
            Value = means.TryGetValue(Role.Sustain, out var sustain) && others > 0 ? sustain / others : null,
            Unit = "times the next longest role",
            AtLeast = 1,
        };
    }

    /// <summary>The longest held note, in seconds; excludes notes that fill a unit, in which a bow cannot turn.</summary>
    public static CheckResult Bows(BandBars band)
    {
        var held = band.PartsIn(Role.Sustain).SelectMany(part => part.Notes)
            .Where(placed => placed.Note.Length > placed.Bar.Meter.Unit)
            .Select(placed => (Placed: placed, Seconds: band.Seconds(placed.From, placed.To)))
            .ToList();
        var longest = held.Count == 0 ? default : held.MaxBy(note => note.Seconds);
        return new CheckResult
        {
            Name = "longest bow",
            Value = held.Count == 0 ? null : longest.Seconds,
            Unit = "s",
            AtMost = LongestBow + 1e-6,
            Places = held.Count > 0 && longest.Seconds > LongestBow + 1e-6 ? [longest.Placed.ToString()] : [],
        };
    }

    /// <summary>With felt beats inside the bar: the bass's sounding share of the time to its next note.</summary>
    public static CheckResult BassInBeats(BandBars band) => new()
    {
        Name = "bass length in beats",
        Value = Sounding(band, bar => bar.Felt is FeltLevel.Unit or FeltLevel.Group),
        Unit = "% of the time to its next note",
        AtLeast = LeastBass,
        AtMost = MostBass,
    };

    /// <summary>With whole bars felt: the same; the bass should ring.</summary>
    public static CheckResult BassInOne(BandBars band) => new()
    {
        Name = "bass length in one",
        Value = Sounding(band, bar => bar.Felt is FeltLevel.Bar or FeltLevel.BarGroup),
        Unit = "% of the time to its next note",
        AtLeast = LeastRinging,
    };

    /// <summary>The shortest second half of an uneven unit, in ms. In a unit with an even number of onsets, the middle onset divides
    /// it.</summary>
    public static CheckResult SwungNotes(BandBars band)
    {
        double? shortest = null;
        foreach (var bar in band.Form)
        {
            var inUnits = bar.Notes.Where(note => note.Role is Role.Pulse or Role.Roll or Role.Bass).Select(note => note.Onset).Distinct()
                .GroupBy(onset => (onset / bar.Meter.Unit).Floor());
            foreach (var unit in inUnits)
            {
                var middle = bar.Swing.Played((bar.Meter.Unit * unit.Key) + (bar.Meter.Unit / 2));
                var end = bar.Meter.Unit * (unit.Key + 1);
                if (!bar.Swing.IsStraight && unit.Contains(middle))
                {
                    var ms = band.Seconds(bar.Start + middle, bar.Start + end) * 1000;
                    shortest = Math.Min(shortest ?? double.MaxValue, ms);
                }
            }
        }

        return new CheckResult
        {
            Name = "shortest swung note",
            Value = shortest,
            Unit = "ms",
            AtLeast = ShortestSwung - 1e-6,
            Source = "Friberg & Sundström 2002, Music Perception 19: 333-349",
        };
    }

    /// <summary>Roll notes after the final downbeat or sounding across it.</summary>
    public static CheckResult RollAfterTheEnd(BandBars band)
    {
        var ending = band.Bars[^1].IsEnding ? band.Bars[^1] : null;
        return CheckResult.None(
            "roll after the final downbeat",
            "notes",
            ending is not null && band.PartsIn(Role.Roll).Any(),
            band.Notes.Where(placed => placed.Note.Role == Role.Roll && ending is not null
                && (placed.Bar == ending ? placed.Note.Onset > Span.Zero : placed.To > ending.Start)).Select(placed => placed.ToString()));
    }

    private static double? Sounding(BandBars band, Func<Bar, bool> counts)
    {
        double sounding = 0, space = 0;
        foreach (var (part, notes) in band.PartsIn(Role.Bass))
        {
            // A chart can set another ring.
            if (band.SettingsOf<BassSettings>(part).Ring is not null)
            {
                continue;
            }

            for (var i = 0; i + 1 < notes.Count; i++)
            {
                var (note, next) = (notes[i], notes[i + 1]);
                if (counts(note.Bar) && note.Bar.Stop == BandStop.None && !Rests(band, note, next))
                {
                    sounding += (note.To - note.From).Wholes.ToDouble();
                    space += (next.From - note.From).Wholes.ToDouble();
                }
            }
        }

        return space == 0 ? null : 100 * sounding / space;
    }

    // The space ends at N.C. or at a section in which the part does not play.
    private static bool Rests(BandBars band, PlacedNote note, PlacedNote next) =>
        band.Bars.Skip(note.Bar.Index - band.Bars[0].Index).TakeWhile(bar => bar.Start < next.From)
            .Any(bar => bar.Chords.Any(chord => chord.Symbol.IsNoChord) || bar.Section != note.Bar.Section);
}
