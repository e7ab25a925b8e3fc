using CsCheck;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Notation;

public sealed class SoundingNotesTests
{
    [Fact]
    public void OfPart_TieOverABarLine_IsOneNote()
    {
        var music = Scores.OneVoice(
            [Scores.Rest("1/2"), Scores.Note("C4 1/2~")],
            [Scores.Note("~C4 1/1~")],
            [Scores.Note("~C4 1/4"), Scores.Note("C4 3/4")]);
        Assert.Equal("1/2+7/4 C4, 9/4+3/4 C4", Text(SoundingNotes.OfPart(music, 0)));
        Assert.Equal([0, 1, 2], SoundingNotes.OfPart(music, 0)[0].Sources.Select(source => source.Measure));
    }

    [Fact]
    public void OfPart_TieWithoutItsOtherEnd_SoundsApart()
    {
        var music = Scores.OneVoice([Scores.Note("C4 1/2~"), Scores.Note("C4 1/4"), Scores.Note("~C4 1/4")]);
        Assert.Equal("0+1/2 C4, 1/2+1/4 C4, 3/4+1/4 C4", Text(SoundingNotes.OfPart(music, 0)));
    }

    [Fact]
    public void OfPart_ChordWithOneTie_TiesThatPitchOnly()
    {
        var chord = Scores.Note("C4 1/2").WithNotes(
            [WrittenNote.Of(Pitch.Parse("C4")), WrittenNote.Of(Pitch.Parse("E4")) with { TiedTo = new TieEnd() }]);
        var next = Scores.Note("C4 1/2").WithNotes(
            [WrittenNote.Of(Pitch.Parse("C4")), WrittenNote.Of(Pitch.Parse("E4")) with { TiedFrom = new TieEnd() }]);
        Assert.Equal("0+1/2 C4, 0+1 E4, 1/2+1/2 C4", Text(SoundingNotes.OfPart(Scores.OneVoice([chord, next]), 0)));
    }

    [Fact]
    public void OfPart_TieIntoAnotherVoice_IsOneNoteOfTheFirst()
    {
        var music = Scores.Of(
            [Scores.Measure(1, new MeterMark(Span.Zero, Scores.FourFour))],
            [
                new PartMeasure
                {
                    Voices =
                    [
                        new VoiceMeasure("1", [Scores.Note("C4 1/2~"), Scores.Note("E4 1/2")]),
                        new VoiceMeasure("2", [new GapEvent(Span.Of(1, 2)), Scores.Note("~C4 1/2")]),
                    ],
                },
            ]);
        Assert.Equal("0+1 C4", Text(SoundingNotes.OfVoice(music, 0, "1").Take(1)));
        Assert.Empty(SoundingNotes.OfVoice(music, 0, "2"));
    }

    [Fact]
    public void OfPart_TieIntoTheSecondEnding_IsHeldInTheSecondPassOnly()
    {
        var measures = Scores.Signs("|:", "[1 ] :|", "[2 ]");
        var music = Scores.Of(
            [measures[0] with { Marks = [.. measures[0].Marks, new MeterMark(Span.Zero, Scores.FourFour)] }, measures[1], measures[2]],
            [
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("G4 1/1~")])] },
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("A4 1/1")])] },
                new PartMeasure { Voices = [new VoiceMeasure("1", [Scores.Note("~G4 1/1")])] },
            ]);
        Assert.Equal("0+1 G4, 1+1 A4, 2+2 G4", Text(SoundingNotes.OfPart(music, 0, Unfolding.Order(music.Measures))));
    }

    [Fact]
    public void OfPart_GraceNotes_BelongToTheNoteTheyLeadToOrEnd()
    {
        var music = Scores.OneVoice([Scores.Grace("D4"), Scores.Note("C4 1/2"), Scores.Grace("B3", after: true), Scores.Grace("F4"), Scores.Note("E4 1/2")]);
        var notes = SoundingNotes.OfPart(music, 0);
        Assert.Equal(["D4", "B3", "F4"], new[] { notes[0].GracesBefore[0], notes[0].GracesAfter[0], notes[1].GracesBefore[0] }.Select(grace => grace.Event.Notes[0].Pitch.ToString()));
        Assert.Equal("0+1/2 C4, 1/2+1/2 E4", Text(notes));
    }

    [Fact]
    public void OfPart_CueNotesAndNotesOfOtherPasses_AreSilent()
    {
        var second = Scores.Note("E4 1/2");
        second = second.WithNotes([second.Notes[0] with { Passes = [2] }]);
        var music = Scores.OneVoice([Scores.Note("C4 1/2") with { IsCue = true }, second]);
        Assert.Empty(SoundingNotes.OfPart(music, 0));
        Assert.Equal("1/2+1/2 E4", Text(SoundingNotes.OfPart(music, 0, [new PlayedMeasure(0, 2, 2)])));
    }

    // Splitting any event at any place does not change the sound.
    [Fact]
    public void OfPart_AnyEventDividedAtAnyPlace_SoundsTheSame()
    {
        var id = 0;
        var unit = Gen.Select(Gen.Int[-5, 0], Gen.Int[0, 2]).Select(one => new NoteUnit((NoteBase)one.Item1, one.Item2));
        var tuplets = Gen.Select(Gen.Int[1, 7], Gen.Int[1, 6]).Select(one => new Tuplet(++id, one.Item1, one.Item2)).Array[0, 2];
        var pitch = Gen.Int[55, 80].Select(midi => Pitch.FromMidi(midi));
        var one = Gen.Select(unit, tuplets, pitch, Gen.Bool, Gen.Int[1, 11], Gen.Int[2, 12])
            .Select(x => (Whole: Event(new WrittenValue(x.Item1, x.Item2), x.Item3, x.Item4), Share: new Rational(Math.Min(x.Item5, x.Item6 - 1), x.Item6)));
        one.Array[1, 6].Sample(events =>
        {
            var length = events.Aggregate(Span.Zero, (sum, next) => sum + next.Whole.Length);
            var whole = OneMeasure(length, events.Select(next => next.Whole));
            var divided = OneMeasure(length, events.SelectMany(next =>
            {
                var (first, second) = EventSplit.At(next.Whole, next.Whole.Length * next.Share);
                Assert.Equal(next.Whole.Length * next.Share, new VoiceMeasure("1", first).Length);
                Assert.Equal(next.Whole.Length, new VoiceMeasure("1", first).Length + new VoiceMeasure("1", second).Length);
                return first.Concat(second);
            }));
            Assert.Equal(Text(SoundingNotes.OfPart(whole, 0)), Text(SoundingNotes.OfPart(divided, 0)));
            Assert.Empty(VoiceCheck.Faults(divided));
        });
    }

    [Fact]
    public void At_NoteWithMarks_KeepsThemAtTheirEnds()
    {
        var whole = Scores.Note("C4 1/2") with
        {
            Marks = [new Mark(MarkKind.Accent), new Mark(MarkKind.BreathMark), new Mark(MarkKind.Slur) { Edge = MarkEdge.Stop }],
            Lyrics = [new Lyric { Parts = [new LyricPart("la", WordPlace.Single)] }],
            Late = Span.Of(1, 16),
        };
        var (first, second) = EventSplit.At(whole, Span.Of(5, 16));
        Assert.Equal(["1/4", "1/16"], first.Select(piece => piece.Value!.Length.ToString()));
        Assert.Equal([MarkKind.Accent], first[0].Marks.Select(mark => mark.Kind));
        Assert.Equal([MarkKind.BreathMark, MarkKind.Slur], second[^1].Marks.Select(mark => mark.Kind));
        Assert.Single(first[0].Lyrics);
        Assert.Empty(first.Skip(1).Concat(second).SelectMany(piece => piece.Lyrics));
        Assert.Equal(Span.Zero, ((NotesEvent)first[1]).Late);
        Assert.Throws<ArgumentOutOfRangeException>(() => EventSplit.At(whole, whole.Length));
    }

    private static VoiceEvent Event(WrittenValue value, Pitch pitch, bool isRest) =>
        isRest ? new RestEvent(value) : new NotesEvent([WrittenNote.Of(pitch)], value);

    private static WrittenMusic OneMeasure(Span length, IEnumerable<VoiceEvent> events) => Scores.Of(
        [new Measure("1") { ActualLength = length }], [new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] }]);

    private static string Text(IEnumerable<SoundingNote> notes) => string.Join(", ", notes.Select(note => $"{note.Onset}+{note.Length} {note.Note.Pitch}"));
}
