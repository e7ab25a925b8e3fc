using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Sheets;

/// <summary>What a part usually plays in a bar: of all its bars in a meter the rhythm that comes most often, the first of equals.</summary>
internal static class PartPatterns
{
    // Enough to find what is usual; a long form repeats it.
    private const int MostBars = 96;

    /// <summary>The patterns of a part, one for each meter in which it plays.</summary>
    /// <param name="band">The band.</param>
    /// <param name="part">The index of the part.</param>
    /// <param name="meters">The meters, in the wanted order.</param>
    /// <param name="runs">The runs of the form.</param>
    public static IReadOnlyList<PartPattern> Of(BarComposer band, int part, IReadOnlyList<BarMeter> meters, IReadOnlyList<SectionRun> runs)
    {
        var seen = meters.ToDictionary(meter => meter, _ => 0);
        var found = meters.ToDictionary(meter => meter, _ => new List<(Bar Bar, NoteEvent[] Notes, string Rhythm)>());
        var last = band.Options.Bars ?? int.MaxValue;
        foreach (var index in runs.SelectMany(run => Enumerable.Range(run.FirstBar, run.Bars)).Where(index => index < last))
        {
            var place = band.Plan.BarAt(index);
            if (place.Stop != BandStop.None || !seen.TryGetValue(place.Meter, out var count) || count >= MostBars)
            {
                continue;
            }

            var bar = band.BarAt(index);
            var notes = bar.Notes.Where(note => note.Part == part && note.Written.Ornament is null && note.Written.Onset >= Span.Zero).ToArray();
            if (notes.Length == 0)
            {
                continue;
            }

            seen[place.Meter] = count + 1;
            found[place.Meter].Add((bar, notes, Rhythm(notes)));
        }

        return [.. meters.Where(meter => found[meter].Count > 0).Select(meter => Usual(band.Chart.Parts[part].Role, part, meter, found[meter]))];
    }

    private static PartPattern Usual(Role role, int part, BarMeter meter, List<(Bar Bar, NoteEvent[] Notes, string Rhythm)> bars)
    {
        // What a part plays by itself says more of its role than what the arrangement asks of it here and there.
        var plain = bars.FindAll(one => part >= one.Bar.Tasks.Tasks.Count || one.Bar.Tasks.Tasks[part] == PartTask.Plays);
        var usual = (plain.Count > 0 ? plain : bars).GroupBy(one => one.Rhythm, StringComparer.Ordinal).MaxBy(same => same.Count())!.First();
        return new PartPattern(meter, usual.Bar.Index + 1, [.. Notes(role, meter, usual.Bar, usual.Notes)]);
    }

    private static string Rhythm(NoteEvent[] notes) =>
        string.Join(' ', notes.Select(note => $"{note.Written.Onset}{note.Stroke}{note.Touch}").Distinct());

    private static IEnumerable<PatternNote> Notes(Role role, BarMeter meter, Bar bar, NoteEvent[] notes)
    {
        var (low, high) = (notes.Min(note => note.Key), notes.Max(note => note.Key));
        double Height(NoteEvent note) => high == low ? 0.5 : (note.Key - low) / (double)(high - low);
        var onsets = notes.Select(note => note.Written.Onset).Distinct().Order().ToList();
        Span Next(Span onset) => onsets.Find(other => other > onset) is var next && next > onset ? next : meter.Length;
        switch (role)
        {
            case Role.Pulse:
                foreach (var stroke in notes.GroupBy(note => note.Written.Onset).OrderBy(stroke => stroke.Key))
                {
                    var rings = stroke.Any(note => note.Touch == Touch.Open);
                    var sign = (stroke.First().Stroke == Stroke.Up, rings) switch
                    {
                        (true, true) => PatternSign.Up,
                        (true, false) => PatternSign.UpDamped,
                        (false, true) => PatternSign.Down,
                        _ => PatternSign.DownDamped,
                    };
                    yield return new PatternNote(stroke.Key, Next(stroke.Key) - stroke.Key, 0.5, sign, string.Empty);
                }

                break;
            case Role.Count:
                foreach (var click in notes.GroupBy(note => note.Written.Onset).OrderBy(click => click.Key))
                {
                    yield return new PatternNote(click.Key, Next(click.Key) - click.Key, 0.5, PatternSign.Click, string.Empty);
                }

                break;
            case Role.Roll:
                foreach (var note in notes.OrderBy(note => note.Written.Onset).ThenByDescending(note => note.Key).DistinctBy(note => note.Written.Onset))
                {
                    yield return new PatternNote(note.Written.Onset, Next(note.Written.Onset) - note.Written.Onset, Height(note), PatternSign.Dot, Hand(note));
                }

                break;
            default:
                foreach (var note in notes.OrderBy(note => note.Written.Onset).ThenBy(note => note.Key))
                {
                    var length = Span.Min(note.Written.Length > Span.Zero ? note.Written.Length : note.Length, meter.Length - note.Written.Onset);
                    yield return new PatternNote(
                        note.Written.Onset, length, Height(note), PatternSign.Held, role == Role.Tune ? string.Empty : Degree(bar, note));
                }

                break;
        }
    }

    private static string Hand(NoteEvent note) => note.Finger is { Length: > 0 } finger ? finger[..1] : note.Stroke switch
    {
        Stroke.Left => "l",
        Stroke.Right => "r",
        Stroke.Down => "d",
        Stroke.Up => "u",
        _ => string.Empty,
    };

    // The degree over the root of the chord, by letters: the third of a minor chord is 3 too.
    private static string Degree(Bar bar, NoteEvent note)
    {
        var chord = bar.Chords.ChordAt(note.Written.Onset);
        if (chord.IsNoChord || note.Written.Pitch is not { } pitch)
        {
            return string.Empty;
        }

        var degree = (((int)pitch.Name.Letter - (int)chord.Root.Letter + 7) % 7) + 1;
        return degree == 1 ? "R" : degree.ToString(System.Globalization.CultureInfo.InvariantCulture);
    }
}
