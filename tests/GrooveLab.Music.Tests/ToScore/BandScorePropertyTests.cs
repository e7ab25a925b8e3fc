using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Tests.Ensemble;
using GrooveLab.Music.Time;
using GrooveLab.Music.ToScore;
using Xunit;

namespace GrooveLab.Music.Tests.ToScore;

/// <summary>The score of any chart has every note that the band plays, once, at its written place.</summary>
public sealed class BandScorePropertyTests
{
    [Fact]
    public void Score_AnyChart_HasAllNotesOnceAndFullVoices() => Gigs.All.Sample(Check, iter: 120);

    [Fact]
    public void Score_ChartsThatStop_HasAllNotesOnceAndFullVoices() => Gigs.Stopping.Sample(Check, iter: 60);

    private static void Check(Gig gig)
    {
        var band = new BarComposer(gig.Chart);
        var score = BandScore.Of(band);

        Assert.Empty(VoiceCheck.Faults(score));
        Assert.All(score.Parts, part => AssertEventsAreWritten(part));
        foreach (var (part, index) in score.Parts.Select((part, index) => (part, index)))
        {
            var player = gig.Chart.Parts.ToList().FindIndex(one => one.Name == part.Name);
            var pickup = score.Measures.TakeWhile(measure => measure.IsUncounted).Aggregate(Span.Zero, (sum, measure) => sum + (measure.ActualLength ?? measure.Meter?.Length ?? score.MeterAt(0)!.Length!.Value));
            var isPitched = !gig.Chart.Parts[player].Instrument.Unpitched;
            var written = SoundingNotes.OfPart(score, index)
                .Select(note => Text(note.Onset - pickup, isPitched ? note.Length : Span.Zero, note.Note.Pitch?.ToString()))
                .Order(StringComparer.Ordinal);
            var played = Played(band, player, isPitched).Order(StringComparer.Ordinal);

            Assert.Equal(string.Join('\n', played), string.Join('\n', written));
        }
    }

    private static void AssertEventsAreWritten(WrittenPart part)
    {
        foreach (var voice in part.Measures.SelectMany(measure => measure.Voices))
        {
            Assert.All(voice.Events, one => Assert.True(one.Value is not null || one is RestEvent { IsWholeMeasure: true }, $"{part.Name}: {one.Length} has no value"));
        }
    }

    private static string Text(Span onset, Span length, string? pitch) => $"{onset} {length} {pitch}";

    // The notes of the bars: a note that is held on is one, and a tune's note ends where the next one of its line begins.
    private static IEnumerable<string> Played(BarComposer band, int part, bool isPitched)
    {
        var notes = new List<(Span Onset, Span End, int Line, Pitch? Pitch, NoteJoin Join)>();
        var first = band.Plan.BarAt(0).Start;
        for (var index = -1; index < band.End; index++)
        {
            var bar = band.BarAt(index);
            foreach (var note in bar.Notes.Where(note => note.Part == part && note.Written.Ornament is null && (index >= 0 || note.Written.Tune is not null)))
            {
                var onset = bar.Start - first + note.Written.Onset;
                notes.Add((onset, onset + note.Written.Length, note.Written.Tune?.Line ?? note.Written.Voice, note.Written.Pitch, note.Written.Join));
            }
        }

        notes = [.. notes.OrderBy(note => note.Onset)];
        for (var i = 0; i < notes.Count; i++)
        {
            var note = notes[i];
            if (note.Join == NoteJoin.HeldOn && notes.FindLastIndex(i - 1 < 0 ? 0 : i - 1, other => other.Line == note.Line && other.End == note.Onset && other.Pitch == note.Pitch) is var before and >= 0)
            {
                notes[before] = notes[before] with { End = note.End };
                notes.RemoveAt(i--);
            }
            else if (band.Chart.Parts[part].Role == Role.Tune)
            {
                for (var j = 0; j < i; j++)
                {
                    if (notes[j].Line == note.Line && notes[j].Onset < note.Onset && notes[j].End > note.Onset)
                    {
                        notes[j] = notes[j] with { End = note.Onset };
                    }
                }
            }
        }

        return notes.Select(note => Text(note.Onset, isPitched ? note.End - note.Onset : Span.Zero, note.Pitch?.ToString()));
    }
}
