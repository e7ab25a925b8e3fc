using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>A chart as a score: one row of bars in playing order, without repeats, names or other signs of its sections.</summary>
internal static class FlatChart
{
    public static WrittenMusic Of(Chart chart)
    {
        var plan = new FormPlan(chart);
        var bars = Enumerable.Range(0, plan.BarsInPass).Select(plan.BarAt).ToList();
        var notes = new List<(TuneNote Note, Syllable? Syllable)>();
        foreach (var run in bars.Where(bar => bar.IndexInRun == 0).Select(bar => bar.Run))
        {
            if (run.Section.Tune is not { } tune)
            {
                continue;
            }

            var at = run.Start - Position.Zero;

            // The pickup cuts what still sounds before it.
            var from = at - tune.PickupLength;
            notes.RemoveAll(note => note.Note.Onset >= from);
            if (tune.PickupLength > Span.Zero && notes.Count > 0 && notes[^1].Note.Onset + notes[^1].Note.Length > from)
            {
                notes[^1] = (notes[^1].Note with { Length = from - notes[^1].Note.Onset }, notes[^1].Syllable);
            }

            var verse = tune.Verses.Count == 0 ? null : tune.Verses[run.Verse % tune.Verses.Count];
            notes.AddRange(tune.Notes.Select((note, i) => (note with { Onset = at + note.Onset }, verse?.ElementAtOrDefault(i))));
        }

        var lengths = bars.ConvertAll(bar => bar.Length);
        var verses = notes.Exists(note => note.Syllable is not null) ? [notes.ConvertAll(note => note.Syllable)] : new List<List<Syllable?>>();
        var written = new TuneBuilder(lengths).Add("tune", TuneBuilder.Measures(notes.ConvertAll(note => note.Note), lengths), verses).Made().Written;
        var lead = written.Measures.Count - bars.Count;
        return new WrittenMusic(
            [
                .. written.Measures.Select((measure, m) =>
                {
                    var bar = bars[Math.Max(0, m - lead)];
                    var marks = new List<MeasureMark> { new Music.Notation.MeterMark(Span.Zero, WrittenMeter.Of(bar.Meter)) };
                    if (m == 0)
                    {
                        marks.Add(new KeyMark(Span.Zero, WrittenKey.Of(chart.Key)));
                        marks.Add(new TempoSign(Span.Zero) { SoundQuarters = bar.Tempo.WholesPerMinute * 4 });
                    }

                    marks.AddRange(m < lead ? [] : bar.Chords.Select(chord => new ChordMark(chord.Onset, [new WrittenChord { Text = chord.Symbol.Text, Symbol = chord.Symbol }])));
                    return measure with { Marks = [.. marks] };
                }),
            ],
            written.Parts);
    }

    /// <summary>The bars at which sections begin, but for the first.</summary>
    public static HashSet<int> BordersOf(Chart chart)
    {
        var plan = new FormPlan(chart);
        return [.. Enumerable.Range(1, plan.BarsInPass - 1).Where(bar => plan.BarAt(bar).IndexInRun == 0)];
    }
}
