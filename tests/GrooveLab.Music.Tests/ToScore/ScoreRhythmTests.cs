using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.ToScore;

/// <summary>How lengths are written: worked out by hand. Common practice, no source.</summary>
public sealed class ScoreRhythmTests
{
    // Onset and length in eighths.
    [Theory]
    [InlineData("5/8 2+3", 0, 1, 5, 1, "A4:q~ A4:q.")]
    [InlineData("5/8 3+2", 0, 1, 5, 1, "A4:q.~ A4:q")]
    [InlineData("5/8 none", 0, 1, 5, 1, "A4:h~ A4:8")]
    [InlineData("5/8 none", 1, 1, 4, 1, "r8 A4:h")]
    [InlineData("7/8 2+2+3", 0, 1, 7, 1, "A4:q~ A4:q~ A4:q.")]
    [InlineData("7/8 2+2+3", 1, 1, 3, 1, "r8 A4:8~ A4:q rq.")]
    [InlineData("7/8 2+2+3", 4, 1, 3, 1, "rq rq A4:q.")]
    [InlineData("7/8 2+2+3", 5, 1, 2, 1, "rq rq r8 A4:q")]
    [InlineData("7/8 2+2+3", 3, 1, 2, 1, "rq r8 A4:8~ A4:8 r8 r8")]
    [InlineData("9/8 3+3+3", 0, 1, 6, 1, "A4:h. rq.")]
    [InlineData("9/8 3+3+3", 0, 1, 9, 1, "A4:h.~ A4:q.")]
    [InlineData("9/8 2+2+2+3", 2, 1, 7, 1, "rq A4:q~ A4:q~ A4:q.")]
    [InlineData("6/8", 0, 1, 6, 1, "A4:h.")]
    [InlineData("6/8", 0, 1, 4, 1, "A4:q.~ A4:8 rq")]
    [InlineData("6/8", 2, 1, 2, 1, "rq A4:8~ A4:8 r8 r8")]
    [InlineData("4/4", 0, 1, 8, 1, "A4:w")]
    [InlineData("4/4", 0, 1, 6, 1, "A4:h. rq")]
    [InlineData("4/4", 2, 1, 4, 1, "rq A4:q~ A4:q rq")]
    [InlineData("4/4", 0, 1, 3, 1, "A4:q. r8 rh")]
    [InlineData("4/4", 1, 1, 2, 1, "r8 A4:q r8 rh")]
    [InlineData("3/4", 0, 1, 6, 1, "A4:h.")]
    [InlineData("11/16 2+2+3+2+2", 0, 1, 2, 1, "A4:8~ A4:8 r8. r8 r8")]
    [InlineData("11/16 2+2+3+2+2", 0, 1, 11, 2, "A4:8~[ A4:8~] A4:8.~ A4:8~ A4:8")]
    [InlineData("1/4", 0, 1, 2, 1, "A4:q")]
    public void Notes_AnyMeter_AreSplitAtGroupLines(string meter, int onset, int onsetBelow, int length, int lengthBelow, string expected)
    {
        var score = ScoreText.Tune(meter, 1, (new Rational(onset, onsetBelow), new Rational(length, lengthBelow), "A4"));

        Assert.Equal(expected.Replace("[", "", StringComparison.Ordinal).Replace("]", "", StringComparison.Ordinal), score.Line(0));
    }

    [Theory]
    [InlineData("7/8 2+2+3", 7, 1, "A4:8[ A4:8] A4:8[ A4:8] A4:8[ A4:8- A4:8]")]
    [InlineData("5/8 none", 5, 1, "A4:8[ A4:8- A4:8- A4:8- A4:8]")]
    [InlineData("5/8 2+3", 5, 1, "A4:8[ A4:8] A4:8[ A4:8- A4:8]")]
    [InlineData("4/4", 8, 1, "A4:8[ A4:8- A4:8- A4:8] A4:8[ A4:8- A4:8- A4:8]")]
    [InlineData("3/4", 6, 1, "A4:8[ A4:8- A4:8- A4:8- A4:8- A4:8]")]
    [InlineData("2/4", 8, 2, "A4:16[ A4:16- A4:16- A4:16] A4:16[ A4:16- A4:16- A4:16]")]
    [InlineData("5/16 2+3", 5, 2, "A4:16[ A4:16] A4:16[ A4:16- A4:16]")]
    public void Beams_AnyMeter_ShowTheGrouping(string meter, int notes, int below, string expected)
    {
        var score = ScoreText.Tune(meter, 1, [.. Enumerable.Range(0, notes).Select(note => (new Rational(note, below), new Rational(1, below), "A4"))]);

        Assert.Equal(expected, score.Line(0));
    }

    [Fact]
    public void Beams_DottedRhythm_HookBack()
    {
        var score = ScoreText.Tune("2/4", 1, (0, new Rational(3, 2), "A4"), (new Rational(3, 2), new Rational(1, 2), "B4"), (2, new Rational(1, 2), "A4"), (new Rational(5, 2), new Rational(3, 2), "B4"));

        var beams = score.Parts[0].Measures[0].Voices[0].Events.OfType<NotesEvent>().Select(notes => string.Join(',', notes.Beams)).ToList();

        Assert.Equal(["Begin", "End,BackwardHook", "Begin,ForwardHook", "End"], beams);
    }

    // Thirds, fifths and sevenths of a quarter; thirds of a half; the units of a meter in twelfths.
    [Theory]
    [InlineData("2/4", 3, 2, 3, "A4:8/3:2[ A4:8/3:2- A4:8/3:2] rq")]
    [InlineData("2/4", 5, 2, 5, "A4:16/5:4[ A4:16/5:4- A4:16/5:4- A4:16/5:4- A4:16/5:4] rq")]
    [InlineData("2/4", 7, 2, 7, "A4:16/7:4[ A4:16/7:4- A4:16/7:4- A4:16/7:4- A4:16/7:4- A4:16/7:4- A4:16/7:4] rq")]
    [InlineData("4/4", 3, 4, 3, "A4:q/3:2 A4:q/3:2 A4:q/3:2 rh")]
    [InlineData("3/8 none", 3, 1, 3, "A4:16/3:2[ A4:16/3:2- A4:16/3:2] r8 r8")]
    [InlineData("5/12 2+3", 5, 2, 3, "A4:8/3:2[ A4:8/3:2] A4:8/3:2[ A4:8/3:2- A4:8/3:2]")]
    public void Tuplets_OfTheBand_AreInABeat(string meter, int notes, int length, int below, string expected)
    {
        var step = new Rational(length, below);
        var score = ScoreText.Tune(meter, 1, [.. Enumerable.Range(0, notes).Select(note => (step * note, step, "A4"))]);

        Assert.Equal(expected, score.Line(0));
    }

    // A triplet over one and a half quarters of six eighths would be a guess of another kind: six in the time of four.
    [Fact]
    public void Tuplets_OfTheTune_AreTheChartsOwn()
    {
        var six = new Tuplet(1, 6, 4);
        NotesEvent Note(string pitch, NoteBase value) => new([WrittenNote.Of(Music.Harmony.Pitch.Parse(pitch))], new WrittenValue(new NoteUnit(value), six));
        VoiceEvent[] events =
        [
            Note("A4", NoteBase.Sixteenth), Note("B4", NoteBase.Sixteenth), Note("C5", NoteBase.Eighth), Note("D5", NoteBase.Sixteenth), Note("E5", NoteBase.Sixteenth),
            new RestEvent(new WrittenValue(NoteBase.Quarter)),
        ];
        var written = new WrittenMusic(
            [new Measure("1") { ActualLength = Span.Of(1, 2) }],
            [new WrittenPart("tune", [new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] }])]);
        var chart = ScoreText.Chart("2/4", 1, (0, 1, "A4"));

        var score = ScoreText.Of(chart with { Sections = [chart.Sections[0] with { Tune = new Tune(written) }] });

        Assert.Equal("A4:16/6:4[ B4:16/6:4- C5:8/6:4- D5:16/6:4- E5:16/6:4] rq", score.Line(0));
    }

    [Fact]
    public void Notes_OverABarLine_AreTied()
    {
        var score = ScoreText.Tune("5/8 3+2", 2, (3, 4, "A4"));

        Assert.Equal("rq. A4:q~", score.Line(0));
        Assert.Equal("A4:q r8 rq", score.Line(1));
    }

    [Fact]
    public void Meter_UnequalGroups_IsASumAndOnlyWrittenOnChange()
    {
        var section = Sheet.Section("verse", [Sheet.Bar("7/8 2+2+3"), Sheet.Bar("7/8 2+2+3"), Sheet.Bar("6/8"), Sheet.Bar("6/8 2+2+2"), Sheet.Bar("5/8 none")]);

        var score = ScoreText.Of(Sheet.Chart(section));

        Assert.Equal(
            ["2+2+3/8", "", "6/8", "2+2+2/8", "5/8"],
            score.Measures.Take(5).Select(measure => measure.Meter?.ToString() ?? ""));
    }
}
