using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Live changes of tempo while the chart slows down or speeds up: what they mean, what they answer, what is saved.</summary>
public sealed class TempoInRitardandoTests
{
    private const string Text = """
        format = 2
        key = "E dorian"
        tempo = "eighth = 260"   # brisk
        learner-tempo = "eighth = 130"
        meter = "7/8 2+2+3"
        form = ["A", "B", "A"]

        [[section]]
        name = "A"
        chords = "| Em | D |"

        [[section]]
        name   = "B"
        tempo  = "to eighth = 200 over the last 2 bars, then a tempo"   # slow it
        chords = "| G | D | [5/8 3+2] C | Em |"

        """;

    // In B's last bar but one, a bar of 5/8, and in the A before.
    private static readonly PerformancePlace InRitardando = new(4, 4, 5);
    private static readonly PerformancePlace InA = new(1, 1, 2);

    private static PerformanceHistory History(string text = Text) =>
        new(PerformanceState.Opening(ChartReader.ReadText(text, "song.toml").Chart!, InstrumentFile.BuiltIn));

    private static string Sounds(PerformanceHistory history) => string.Join(' ', Enumerable.Range(0, 8)
        .Select(bar => Decimals.Of(new Rational((history.State.TempoIn(history.State.Plan.BarAt(bar), bar).PerMinute(Span.Of(1, 8)) * 10).Round(), 10))));

    private static string Saved(PerformanceHistory history, string text = Text)
    {
        var document = ChartDocument.FromText(text, "song.toml");
        var opened = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn).Chart;
        var written = ChartDifference.Write(document, opened, history.State.Chart.AtPace(history.State.Pace, 100_000));
        Assert.False(written.IsReformatted);
        return written.Document.Text;
    }

    // The number is the tempo of the passage. Once a bug: it was what the ritardando had reached, so that the next section came in faster.
    [Theory]
    [InlineData("tempo 240", "240 240 240 240 238.8 215.8 240 240", "in five, eighth = 240; now 239 in the ritardando; tempi in sections keep their ratio", "eighth = 240")]
    [InlineData("tempo by 4", "264 264 264 264 262.7 237.3 264 264", "in five, eighth = 264; now 263 in the ritardando; tempi in sections keep their ratio", "eighth = 264")]
    [InlineData("tempo by -4", "256 256 256 256 254.8 230.2 256 256", "in five, eighth = 256; now 255 in the ritardando; tempi in sections keep their ratio", "eighth = 256")]
    [InlineData("tempo 80%", "208 208 208 208 207 187 208 208", "in five, eighth = 208; now 207 in the ritardando; tempi in sections keep their ratio", "eighth = 208")]
    [InlineData("tempo learner", "130 130 130 130 129.4 116.9 130 130", "in five, eighth = 130; now 129 in the ritardando; tempi in sections keep their ratio", "eighth = 130")]
    public void Do_ATempoInARitardando_IsThatOfThePassage(string words, string sounds, string says, string saved)
    {
        var history = History();

        var step = history.Do(words, InRitardando);

        Assert.Equal(sounds, Sounds(history));
        Assert.Equal(says, step.Result.Says);
        Assert.Contains($"tempo = \"{saved}\"   # brisk\n", Saved(history), StringComparison.Ordinal);

        history.Do("tempo 260", InRitardando);
        Assert.Equal(Text, Saved(history));
    }

    [Theory]
    [InlineData("tempo 240 here")]
    [InlineData("tempo 240 in B")]
    public void Do_ATempoForTheSectionInItsRitardando_IsTheSectionsTempo(string words)
    {
        var history = History();

        var step = history.Do(words, InRitardando);

        Assert.Equal("260 260 240 240 238.8 215.8 260 260", Sounds(history));
        Assert.Equal("B: in five, eighth = 240; its ritardando keeps its ratio: to eighth = 184.62", step.Result.Says);
        Assert.Contains("tempo  = [\"eighth = 240, then eighth = 260\", \"to eighth = 184.62 over the last 2 bars, then a tempo\"] # slow it\n", Saved(history), StringComparison.Ordinal);
    }

    // Once a bug: the ritardando's goal was changed without a word, and the old tempo did not bring the old text back.
    [Fact]
    public void Do_ATempoForASectionThatSlowsDown_SaysItsGoalAndTheOldTempoBringsBackTheText()
    {
        var history = History();

        Assert.Equal("B: in seven, eighth = 300; its ritardando keeps its ratio: to eighth = 230.77", history.Do("tempo 300 in B", InA).Result.Says);
        history.Do("tempo by 7 here", InRitardando);
        history.Do("tempo 50% in B", InA);
        history.Do("tempo 130", InA);
        Assert.Contains("eighth = 65, then", Saved(history), StringComparison.Ordinal);

        Assert.Equal("B: in seven, eighth = 130", history.Do("tempo 130 in B", InA).Result.Says);
        history.Do("tempo 100%", InRitardando);

        Assert.Equal(Text, Saved(history));
        Assert.Empty(history.State.SectionPaces);
        Assert.Empty(history.State.SectionTempi);
    }

    // The ramp was written while the section had another tempo: the tempo before it no longer says everything.
    [Fact]
    public void Do_ARampInAChangedSection_StaysWhenTheOldTempoComesBack()
    {
        var history = History();
        history.Do("tempo 300 in B", InA);
        history.Do("ramp 330 over 1 in B", InA);

        history.Do("tempo 260 in B", InA);

        Assert.Equal("260 260 260.9 286 284.2 248.4 260 260", Sounds(history));
    }

    [Fact]
    public void Do_ARampInARitardando_LeadsToTheTempoOfThePassage()
    {
        var history = History();

        history.Do("ramp 130 over 2", InRitardando);

        Assert.Equal(new Rational(1, 2), history.State.Pace);
    }

    // Once a bug: the factor that a ramp had reached kept all its digits, and after some changes a bar could not be composed.
    [Fact]
    public void Do_ATempoInALiveRamp_KeepsAFactorThatCanBeMultiplied()
    {
        var history = History();
        history.Do("ramp 199.7 over 7", InA);

        history.Do("tempo 211.3", new PerformancePlace(4, 4, 5));

        Assert.InRange(history.State.Orders.Ramp!.To.Denominator, 1, 16_384);
        Assert.InRange((history.State.Pace / new Rational(2113, 2600)).ToDouble(), 0.9999, 1.0001);
    }

    // Who taps in a ritardando taps what is heard: nothing changes.
    [Fact]
    public void FromTaps_WithTheRitardando_LeavesTheTempo()
    {
        var history = History();
        var bar = history.State.BarAt(new PerformancePlace(5, 5, 6));
        Assert.InRange(bar.Tempo.PerMinute(Span.Of(1, 8)).ToDouble(), 230, 240);

        history.Do(SetTempo.FromTaps(new TappedTempo(FeltLevel.Unit, bar.Tempo.WholesPerMinute.ToDouble(), 0.01, 4, false), bar), new PerformancePlace(5, 5, 6));

        Assert.Equal(Rational.One, history.State.Speed);
    }
}
