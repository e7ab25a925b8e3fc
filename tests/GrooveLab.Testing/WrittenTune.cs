using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Testing;

/// <summary>A note of a tune as in a score.</summary>
/// <param name="Part">The index of the part that plays it.</param>
/// <param name="Tune">The tune and the note's number in it.</param>
/// <param name="At">Its written place in the piece.</param>
/// <param name="Length">Its value, including ties.</param>
/// <param name="Pitch">Its pitch in the tune's own octave.</param>
/// <param name="Graces">The grace notes before it.</param>
/// <param name="Syllable">The syllable on it.</param>
public sealed record WrittenTuneNote(
    int Part, TuneOrigin Tune, Position At, Span Length, Pitch Pitch, IReadOnlyList<Pitch> Graces, SungSyllable? Syllable)
{
    /// <inheritdoc/>
    public bool Equals(WrittenTuneNote? other) =>
        other is not null && (Part, Tune, At, Length, Pitch, Syllable) == (other.Part, other.Tune, other.At, other.Length, other.Pitch, other.Syllable)
        && Graces.SequenceEqual(other.Graces);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Part, Tune, At);
}

/// <summary>A tune reconstructed as a score, measure by measure with ties over bar lines, from played bars alone; and the same from its
/// chart.</summary>
public static class WrittenTune
{
    private sealed record Piece(NoteEvent Note, Position At, Span Length, bool Tied);

    /// <summary>The tunes in consecutive bars, in order of place.</summary>
    public static IReadOnlyList<WrittenTuneNote> Read(IReadOnlyList<Bar> bars)
    {
        var notes = new List<WrittenTuneNote>();
        var graces = Graces(bars);
        foreach (var measure in Measures(bars))
        {
            foreach (var (note, at, length, tied) in measure)
            {
                var tune = note.Written.Tune!;
                if (tied)
                {
                    var open = notes.FindLastIndex(other => other.Part == note.Part && other.Tune == tune);
                    if (notes[open].At + notes[open].Length != at)
                    {
                        throw new InvalidOperationException($"{tune} is tied to nothing at {at}.");
                    }

                    notes[open] = notes[open] with { Length = notes[open].Length + length };
                    continue;
                }

                notes.Add(new WrittenTuneNote(note.Part, tune, at, length, InTune(note), [.. graces[(note.Part, tune, at)]], note.Written.Syllable));
            }
        }

        return [.. notes.OrderBy(note => note.At).ThenBy(note => note.Part).ThenBy(note => note.Tune.Note)];
    }

    /// <summary>The tunes of a band's chart, in order of place: all notes of every playing, preceded by its pickup. Excludes what one
    /// part cannot play: a pickup longer than the music before it, and the notes replaced by the pickup of the next playing.</summary>
    public static IReadOnlyList<WrittenTuneNote> Asked(BarComposer band)
    {
        var last = band.End!.Value - 1;
        return Asked(band, 0, band.BarAt(last).IsEnding ? last : last + 1, leadsOn: !band.BarAt(last).IsEnding);
    }

    /// <summary>The same in a range of bars; with the pickup of the next bars if they lead on.</summary>
    public static IReadOnlyList<WrittenTuneNote> Asked(BarComposer band, int from, int until, bool leadsOn)
    {
        var (chart, plan) = (band.Chart, band.Plan);
        var runs = Enumerable.Range(from, until - from).Select(index => plan.BarAt(index).Run).DistinctBy(run => run.Number).ToList();
        var notes = new List<WrittenTuneNote>();
        for (var part = 0; part < chart.Parts.Count; part++)
        {
            if (chart.Parts[part].Settings is not TuneSettings settings)
            {
                continue;
            }

            bool Plays(SectionRun run) => run.Section.Tune is not null && run.Section.Playing?.Contains(part) != false;
            IEnumerable<WrittenTuneNote> Of(SectionRun run, Position start, Func<TuneNote, bool> wanted) =>
                OfChart(part, settings.Octaves, run, start, wanted);
            foreach (var run in runs)
            {
                var end = plan.BarAt(run.EndBar - 1).End;
                var length = end - run.Start;
                var next = plan.RunAfter(run);
                var pickup = (leadsOn || run.EndBar < until) && Plays(next) ? next.Section.Tune!.PickupLength : Span.Zero;
                if (Plays(run))
                {
                    notes.AddRange(Of(run, run.Start, note =>
                        note.Onset >= Span.Zero && note.Onset < length && (pickup == Span.Zero || note.Onset < length - pickup)));
                }

                if (pickup > Span.Zero)
                {
                    notes.AddRange(Of(next, end, note => note.Onset < Span.Zero && length + note.Onset >= Span.Zero));
                }
            }

            // Of incomplete playings, only the notes in the bars are played.
            notes.RemoveAll(note => note.Part == part && (note.At < plan.BarAt(from).Start || note.At >= plan.BarAt(until - 1).End));
            if (band.First < from && from == 0 && Plays(runs[0]))
            {
                var room = band.BarAt(-1).Length;
                notes.AddRange(Of(runs[0], runs[0].Start, note => note.Onset < Span.Zero && room + note.Onset >= Span.Zero));
            }
        }

        return [.. notes.OrderBy(note => note.At).ThenBy(note => note.Part).ThenBy(note => note.Tune.Note)];
    }

    /// <summary>The notes of a chart's tune for a part in one playing of a section.</summary>
    /// <param name="part">The part's index.</param>
    /// <param name="octaves">The octaves by which it transposes the tune.</param>
    /// <param name="run">The playing.</param>
    /// <param name="start">The place of its first bar line.</param>
    /// <param name="wanted">Selects the notes.</param>
    public static IEnumerable<WrittenTuneNote> OfChart(int part, int octaves, SectionRun run, Position start, Func<TuneNote, bool> wanted)
    {
        var tune = run.Section.Tune!;
        var verse = tune.Verses.Count == 0 ? -1 : run.Verse % tune.Verses.Count;
        for (var i = 0; i < tune.Notes.Count; i++)
        {
            var note = tune.Notes[i];
            if (wanted(note))
            {
                yield return new WrittenTuneNote(
                    part, new TuneOrigin(run.Section.Name, run.Verse, i, octaves), start + note.Onset, note.Length, note.Pitch, note.Graces,
                    verse < 0 ? null : Syllable(tune.Verses[verse], i, verse + 1));
            }
        }
    }

    // The syllable that starts on the note, or an earlier one that reaches it.
    private static SungSyllable? Syllable(IReadOnlyList<Syllable?> words, int note, int verse)
    {
        for (var at = Math.Min(note, words.Count - 1); at >= 0; at--)
        {
            if (words[at] is { } syllable)
            {
                return at + syllable.Notes > note ? new SungSyllable(syllable, note - at + 1, verse) : null;
            }
        }

        return null;
    }

    // The share of each note in each bar; notes across a bar line are tied.
    private static List<Piece>[] Measures(IReadOnlyList<Bar> bars)
    {
        var measures = bars.Select(_ => new List<Piece>()).ToArray();
        for (var bar = 0; bar < bars.Count; bar++)
        {
            foreach (var note in bars[bar].Notes.Where(note => note.Written is { Tune: not null, Ornament: null }))
            {
                var at = bars[bar].Start + note.Written.Onset;
                var end = at + note.Written.Length;
                var into = bar;
                while (into > 0 && bars[into].Start > at)
                {
                    into--;
                }

                for (var tied = false; at < end; tied = true, into++)
                {
                    var until = into + 1 < bars.Count && bars[into].End < end ? bars[into].End : end;
                    measures[into].Add(new Piece(note, at, until - at, tied));
                    at = until;
                }
            }
        }

        return measures;
    }

    private static ILookup<(int Part, TuneOrigin Tune, Position At), Pitch> Graces(IReadOnlyList<Bar> bars) => bars
        .SelectMany(bar => bar.Notes.Select(note => (Note: note, At: bar.Start + note.Written.Onset)))
        .Where(grace => grace.Note.Written is { Ornament.Kind: OrnamentKind.Grace })
        .OrderBy(grace => grace.Note.Written.Ornament!.Number)
        .ToLookup(grace => (grace.Note.Part, grace.Note.Written.Tune!, grace.At), grace => InTune(grace.Note));

    private static Pitch InTune(NoteEvent note)
    {
        var pitch = note.Written.Pitch!.Value;
        return pitch with { Octave = pitch.Octave - note.Written.Tune!.Octaves };
    }
}
