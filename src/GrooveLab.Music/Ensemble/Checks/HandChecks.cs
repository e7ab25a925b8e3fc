using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks for notes that hands cannot play: each rule with the places where it is broken. Common practice, no source.</summary>
public static class HandChecks
{
    /// <summary>Frets that a hand spans, including both ends.</summary>
    private const int Stretch = 5;

    /// <summary>The smallest step before the roll thins, as a share of the hand's limit: 5 % of slack.</summary>
    private const double Slack = 95;

    /// <summary>Seconds from note to note below which a plectrum seldom passes over a string.</summary>
    private const double QuickPick = 0.130;

    /// <summary>Most moves of a quick plectrum, in percent, that pass over a string.</summary>
    private const double MostSkips = 15;

    /// <summary>Two notes that sound together for less than this, in seconds, are not a double stop.</summary>
    private const double ShortestStop = 0.1;

    /// <summary>All checks.</summary>
    public static IEnumerable<CheckResult> Of(BandBars band)
    {
        yield return StringSkips(band);
        yield return DoubleStops(band);
        yield return TwiceInARow(band);
        yield return OutOfReach(band);
        yield return TooManyAtOnce(band);
        yield return Stretches(band);
        yield return QuickestStep(band);
    }

    /// <summary>A roll must not repeat a finger, a string (for fingers) or a hand (hammers, plectrum). A new playing of a section may
    /// start with any.</summary>
    public static CheckResult TwiceInARow(BandBars band) => CheckResult.None(
        "repeated finger or string", "times", band.PartsIn(Role.Roll).Any(), RollPairs(band).Where(pair => IsTwice(band, pair)).Select(pair => pair.B.ToString()));

    /// <summary>Notes outside the instrument's range, below their open string or past its last fret.</summary>
    public static CheckResult OutOfReach(BandBars band) => CheckResult.None(
        "out of reach",
        "notes",
        true,
        band.Notes.Where(placed =>
        {
            var instrument = band.Band[placed.Note.Part].Instrument;
            var fret = FretOf(band, placed.Note);
            return placed.Note.Key < instrument.Lowest || placed.Note.Key > instrument.Highest || fret < 0 || fret > instrument.Frets;
        }).Select(placed => placed.ToString()));

    /// <summary>Strokes of more notes than the instrument can play at once, or of two notes on one string.</summary>
    public static CheckResult TooManyAtOnce(BandBars band) => CheckResult.None(
        "too many notes at once",
        "strokes",
        true,
        Strokes(band, Role.Pulse, Role.Roll, Role.Bass, Role.Sustain)
            .Where(stroke => stroke.Count > Math.Max(1, band.Band[stroke[0].Note.Part].Instrument.Voices)
                || stroke.Where(placed => placed.Note.String > 0).GroupBy(placed => placed.Note.String).Any(same => same.Count() > 1))
            .Select(stroke => $"{stroke[0]}, {stroke.Count} notes"));

    /// <summary>The widest stretch of a strum on strings, in frets, excluding open strings.</summary>
    public static CheckResult Stretches(BandBars band)
    {
        var widest = 0;
        string? where = null;
        var any = false;
        foreach (var stroke in Strokes(band, Role.Pulse))
        {
            var held = stroke.Where(placed => placed.Note.String > 0)
                .Select(placed => new StringNote(placed.Note.String - 1, FretOf(band, placed.Note), placed.Note.Key)).ToArray();
            any |= held.Length > 0;
            var stretch = held.Length == 0 ? 0 : new StringFingering([.. held]).Stretch;
            if (stretch > widest)
            {
                (widest, where) = (stretch, stroke[0].ToString());
            }
        }

        var most = band.Chart?.Parts.Where(part => part.Role == Role.Pulse).Select(part => part.Instrument.Stretch).DefaultIfEmpty(Stretch).Max() ?? Stretch;
        return new CheckResult
        {
            Name = "stretch",
            Value = any ? widest : null,
            Unit = "frets",
            AtMost = most,
            Places = widest > most ? [where!] : [],
        };
    }

    /// <summary>Moves of a plectrum roll, faster than 130 ms, that pass over a string: the pick travels too far.</summary>
    public static CheckResult StringSkips(BandBars band)
    {
        var moves = RollPairs(band).Where(pair => band.Band[pair.A.Note.Part].Instrument.Technique == Technique.Plectrum
            && pair.A.Note.String > 0 && pair.B.Note.String > 0 && band.Seconds(pair.A.From, pair.B.From) < QuickPick).ToArray();
        var skips = moves.Where(pair => Math.Abs(pair.A.Note.String - pair.B.Note.String) >= 2).ToArray();
        var share = moves.Length == 0 ? (double?)null : 100.0 * skips.Length / moves.Length;
        return new CheckResult
        {
            Name = "string skips",
            Value = share,
            Unit = "% of a plectrum's quick moves",
            AtMost = MostSkips,
            Places = share > MostSkips ? [.. skips.Take(CheckResult.MostPlaces).Select(pair => pair.B.ToString())] : [],
        };
    }

    /// <summary>Two notes of a bowed part, sounding together, that no two neighbouring strings give inside the hand.</summary>
    public static CheckResult DoubleStops(BandBars band)
    {
        var bowed = band.PartsIn(Role.Sustain, Role.Tune)
            .Where(part => band.Band[part.Part].Instrument is { Technique: Technique.Bow, Strings.Count: > 0 }).ToArray();
        return CheckResult.None("impossible double stops", "pairs", bowed.Length > 0, bowed.SelectMany(part => Impossible(band, part.Part, part.Notes)));
    }

    /// <summary>The shortest step of a roll as a share of its hand's limit. Excludes notes that fill a whole group, which cannot be
    /// thinned, and the short halves of swung units, which swing keeps to a tenth of a second at least.</summary>
    public static CheckResult QuickestStep(BandBars band)
    {
        var quickest = double.PositiveInfinity;
        PlacedNote? where = null;
        foreach (var (a, b) in RollPairs(band))
        {
            var limit = band.SettingsOf<RollSettings>(a.Note.Part).HandLimitMs ?? band.Band[a.Note.Part].Instrument.HandLimitMs;
            var share = band.Seconds(a.From, b.From) * 100_000 / limit;
            if (share < quickest && !FillsItsGroup(a, b) && !IsSwungShort(a))
            {
                (quickest, where) = (share, a);
            }
        }

        return new CheckResult
        {
            Name = "shortest roll note",
            Value = where is null ? null : quickest,
            Unit = "% of the hand's limit",
            AtLeast = Slack - 1e-6,
            Places = quickest < Slack - 1e-6 ? [where.ToString()!] : [],
        };
    }

    /// <summary>Consecutive notes of a roll in one playing of a section, of two struck together the first. A single note struck at a stop
    /// of the band does not belong to the roll, nor does one after a rest of a bar.</summary>
    internal static IEnumerable<(PlacedNote A, PlacedNote B)> RollPairs(BandBars band)
    {
        foreach (var (_, notes) in band.PartsIn(Role.Roll))
        {
            PlacedNote? last = null;
            foreach (var note in notes)
            {
                if (last is { } before)
                {
                    if (before.From == note.From)
                    {
                        continue;
                    }

                    var begins = note.Bar != before.Bar && note.Bar.IndexInSection == 0;
                    if (!begins && note.Bar.Stop == BandStop.None && before.Bar.Stop == BandStop.None && note.From - before.From <= before.Bar.Length)
                    {
                        yield return (before, note);
                    }
                }

                last = note;
            }
        }
    }

    private static IEnumerable<string> Impossible(BandBars band, int part, IReadOnlyList<PlacedNote> notes)
    {
        var instrument = band.Band[part].Instrument;
        var sounding = new List<PlacedNote>();
        foreach (var note in notes)
        {
            sounding.RemoveAll(other => band.Seconds(note.From, other.To) <= ShortestStop);
            foreach (var other in sounding)
            {
                if (band.Seconds(note.From, note.To) > ShortestStop && other.Note.Key != note.Note.Key
                    && !StringVoicings.CanStopTogether(instrument.Strings, other.Note.Key, note.Note.Key, instrument.Stretch))
                {
                    yield return $"{note}, with {other.Note.Key}";
                }
            }

            sounding.Add(note);
        }
    }

    private static bool IsTwice(BandBars band, (PlacedNote A, PlacedNote B) pair)
    {
        var (a, b) = (pair.A.Note, pair.B.Note);
        return band.Band[a.Part].Instrument.Technique switch
        {
            Technique.Fingers => (a.Finger is not null && a.Finger == b.Finger) || (a.String > 0 && a.String == b.String),
            Technique.Hammers or Technique.Plectrum => a.Stroke != Stroke.None && a.Stroke == b.Stroke,
            _ => false,
        };
    }

    // The second half of a swung unit.
    private static bool IsSwungShort(PlacedNote placed)
    {
        var units = placed.Note.Written.Onset / placed.Bar.Meter.Unit;
        return !placed.Bar.Swing.IsStraight && units - new Rational(units.Floor(), 1) == new Rational(1, 2);
    }

    private static bool FillsItsGroup(PlacedNote placed, PlacedNote next)
    {
        var meter = placed.Bar.Meter;
        var length = next.From - placed.From;
        for (var group = 0; group < meter.GroupSizes.Count; group++)
        {
            if (placed.Note.Onset == meter.Unit * meter.GroupStartUnits[group] && length >= meter.Unit * meter.GroupSizes[group])
            {
                return true;
            }
        }

        return false;
    }

    // 0 without a string: then any key in range is valid.
    private static int FretOf(BandBars band, NoteEvent note) =>
        note.String == 0 ? 0 : note.Key - band.Band[note.Part].Instrument.Strings[note.String - 1];

    private static IEnumerable<List<PlacedNote>> Strokes(BandBars band, params Role[] roles) => band.Notes
        .Where(placed => roles.Contains(placed.Note.Role))
        .GroupBy(placed => (placed.Note.Part, placed.From))
        .Select(stroke => stroke.ToList());
}
