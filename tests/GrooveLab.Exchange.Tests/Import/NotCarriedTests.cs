using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

public sealed class NotCarriedTests
{
    public static TheoryData<MarkKind> Kinds => [.. Enum.GetValues<MarkKind>()];

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Make_MarkOnANote_IsInTheChartOrListed(MarkKind kind)
    {
        var mark = new Mark(kind) { Text = kind == MarkKind.Dynamics ? "pp" : "x" };
        var music = With(one => one with { Marks = [mark] }, measure => measure);
        Check(music, new Mark(kind) { Text = kind is MarkKind.Dynamics or MarkKind.Fingering or MarkKind.Wedge ? mark.Text : null }, kind);
    }

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Make_MarkInThePart_IsInTheChartOrListed(MarkKind kind)
    {
        var mark = new Mark(kind) { Text = kind == MarkKind.Dynamics ? "pp" : "x" };
        var music = With(one => one, measure => measure with { Marks = [new PlacedMark(Span.Zero, mark)] });
        Check(music, mark, kind);
    }

    [Fact]
    public void Make_EverythingElse_IsListed()
    {
        NotesEvent Note(params WrittenNote[] heads) => new([.. heads], new WrittenValue(NoteBase.Quarter));
        var c4 = WrittenNote.Of(new Pitch(new PitchName(NoteLetter.C), 4));
        var e4 = WrittenNote.Of(new Pitch(new PitchName(NoteLetter.E), 4));
        var tune = new PartMeasure
        {
            Voices =
            [
                new VoiceMeasure("1",
                [
                    Note(c4, e4), Note(WrittenNote.Unpitched()), Note(c4) with { IsCue = true },
                    Note(WrittenNote.Of(new SpelledPitch(NoteLetter.D, new Rational(1, 2), 4)) with { TiedTo = new TieEnd() }),
                    NotesEvent.OfGrace([e4], new Grace { IsAfter = true }, null), Note(c4),
                ]),
                new VoiceMeasure("2", [Note(c4)]),
            ],
        };
        var measure = new Measure("7")
        {
            ActualLength = Span.Of(5, 4),
            Marks =
            [
                new Music.Notation.MeterMark(Span.Zero, new WrittenMeter(new MeterPair([5], 4)) { Interchangeable = new WrittenMeter(new MeterPair([10], 8)) }),
                new TempoSign(Span.Zero) { Words = ["Lively"], Swing = new Detail("swing", "2:1") },
                new WordsMark(Span.Zero, "all together"),
                new WordsMark(Span.Zero, "poco rit."),
                new WordsMark(Span.Zero, "en pressant peu à peu"),
                new WordsMark(Span.Zero, "Still faster"),
                new WordsMark(Span.Zero, "ritual"),
                new BarlineSign(Span.Zero, BarlineSide.Right, new Mark(MarkKind.Fermata)),
                new ChordMark(Span.Of(3, 16), [new WrittenChord { Text = "C" }, new WrittenChord { Text = "Am" }]),
                new ChordMark(Span.Of(3, 4), [new WrittenChord { Function = "V/V" }]),
                new ChordMark(Span.Of(1, 2), [new WrittenChord { Text = "G7blah" }]),
            ],
            Annotations = [new Annotation("footnote", "as sung")],
        };
        var other = new WrittenPart("P2", [new PartMeasure { Voices = [new VoiceMeasure("1", [Note(c4), Note(e4)])], Marks = [new PlacedMark(Span.Zero, new Mark(MarkKind.Pedal))] }]) { Name = "Piano" };
        var song = ChartMaker.Make(new WrittenMusic([measure], [new WrittenPart("P1", [tune]) { Name = "Voice" }, other]), ImportedChartText.Options());
        var listed = string.Join('\n', song.NotCarried.Select(lost => lost.What));
        foreach (var expected in new[]
        {
            "chord in the tune (1 place: measure 7); its top note is kept", "note without pitch", "cue note", "microtone", "grace note after its note",
            "tie that leads to no note", "notes of voice 2 of Voice", "notes of Piano (2)", "pedal of Piano", "words: Lively", "swing", "words: all together", "words: ritual", "words: Still faster",
            "gradual change of tempo: en pressant peu à peu",
            "gradual change of tempo: poco rit. (1 place: measure 7); the score gives no tempo to reach, so the tempo stays; write one in the section",
            "fermata over a bar line", "chord between two units", "stacked chord symbol", "chord that no symbol names: V/V", "chord G7blah (1 place: measure 7); written as G7",
            "remark: as sung", "alternative meter 10/8",
        })
        {
            Assert.Contains(expected, listed, StringComparison.Ordinal);
        }

        Same.WhenRead(song);
    }

    // A local change of the score changes local lines of the chart.
    [Fact]
    public void Write_OneNoteChanged_ChangesOneLine()
    {
        string[] verse = ["4/4 K=0:major Q=1/4:100 @C C4:1/2=some E4=boats", "@F F4:1/2=are A4=out", "@G G4:1/2=at B4=sea", "@C C5:1=now", "@Am A4:1/2=and E4=some", "@F F4:1=stay", "@G G4:1/2=at B4=the", "@C C5:1=quay"];
        string[] edited = [.. verse];
        edited[5] = "@F A4:1=stay";
        var before = ImportedChartText.Write(ChartMaker.Make(SmallScore.Read(verse), ImportedChartText.Options())).Split('\n');
        var after = ImportedChartText.Write(ChartMaker.Make(SmallScore.Read(edited), ImportedChartText.Options())).Split('\n');
        Assert.Equal(before.Length, after.Length);
        Assert.Single(before.Zip(after), pair => pair.First != pair.Second);
    }

    private static WrittenMusic With(Func<NotesEvent, NotesEvent> change, Func<PartMeasure, PartMeasure> changePart)
    {
        var music = SmallScore.Read("4/4 C4:1/2 D4", "E4:1");
        var part = music.Parts[0];
        var first = part.Measures[0];
        var voice = first.Voices[0] with { Events = [change((NotesEvent)first.Voices[0].Events[0]), first.Voices[0].Events[1]] };
        return new WrittenMusic(music.Measures, [part with { Measures = [changePart(first with { Voices = [voice] }), part.Measures[1]] }]);
    }

    private static void Check(WrittenMusic music, Mark mark, MarkKind kind)
    {
        var song = ChartMaker.Make(music, ImportedChartText.Options());
        var text = ImportedChartText.Write(song);
        var name = TuneMarks.NameOf(mark);
        var isIn = name is not null && text.Contains($"!{name}!", StringComparison.Ordinal);
        var isListed = song.NotCarried.Any(lost => lost.What.Replace(" ", string.Empty, StringComparison.Ordinal).Contains(kind == MarkKind.Wedge ? "hairpin" : kind.ToString(), StringComparison.OrdinalIgnoreCase));
        Assert.True(isIn || isListed, text + string.Join('\n', song.NotCarried));
        Same.WhenRead(song);
    }
}
