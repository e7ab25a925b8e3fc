using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using Xunit;

namespace GrooveLab.Tests.Conducting;

/// <summary>A form that ends by itself, and starting again at any bar.</summary>
public sealed class StopAndStartTests
{
    private const string Song = """
        format = 1
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 420"
        meter = "7/8 2+2+3"
        bar-groups = 4
        form = ["a", "b"]
        times = 2
        looseness = 0

        [[section]]
        name = "a"
        chords = "| Dm | C | G | Dm |"

        [section.tune]
        pickup = "E4:1 F4:1"
        notes = "| D4:4 F4:3 | G4:7 | A4:3 G4:2 F4:2 | D4:7 |"

        [[section]]
        name = "b"
        chords = "| F | C | G | Am |"
        """;

    private static Chart Chart => ChartReader.ReadText(Song, "song").Chart!;

    private static LedBand Band(bool ends = true, bool countIn = false) =>
        new(Chart, start: new StartOptions { Ends = ends, CountIn = countIn }) { KeepsSamples = true };

    private static void PlayOut(LedBand band) => band.Read(LedBand.Rate * 300L);

    [Fact]
    public void Read_FormThatEnds_PlaysWhatARenderPlays()
    {
        var band = Band();
        PlayOut(band);

        // Two times eight bars and the ringing chord, as 'times' says.
        Assert.True(band.Over);
        Assert.Equal(Enumerable.Range(0, 17), band.Played.Select(bar => bar.Index));
        Assert.True(band.Played[^1].IsEnding);
        var render = new Music.Ensemble.BarComposer(band.Opening.Chart);
        Assert.All(band.Played, bar => Assert.Equal(render.BarAt(bar.Index).Notes, bar.Notes));
    }

    [Fact]
    public void Do_RoundOn_TheFormGoesOnAndRoundOffEndsIt()
    {
        var band = Band();
        band.ReadBars(2);
        band.Do("round on");
        Assert.True(band.ReadBars(30));
        Assert.False(band.Over);

        band.Do("round off");
        PlayOut(band);

        Assert.True(band.Over);
        Assert.Equal(0, band.Played[^1].Index % 8);
        Assert.True(band.Played[^1].IsEnding);
    }

    [Theory]
    [InlineData("jump a")]
    [InlineData("section a")]
    public void Do_BackToASectionInTheLastTimeThrough_PlaysOnToTheEndOfTheForm(string words)
    {
        var band = Band();
        band.ReadBars(14);
        band.Do(words);
        PlayOut(band);

        // From the jump on: a, b, the ringing chord.
        Assert.True(band.Over);
        Assert.Equal(["a", "a", "a", "a", "b", "b", "b", "b"], band.Played.SkipLast(1).TakeLast(8).Select(bar => bar.Section));
        Assert.True(band.Played[^1].IsEnding);
    }

    [Fact]
    public void Do_Again_PlaysTheSectionFromItsFirstBar()
    {
        var band = Band();
        band.ReadBars(7);
        band.Do("again");
        band.ReadBars(3);

        Assert.Contains(4, band.Played.Skip(7).Select(bar => bar.Index));
    }

    [Theory]
    [InlineData(5, false)]
    [InlineData(6, true)]
    [InlineData(4, true)]
    [InlineData(12, true)]
    public void PlayAgain_AtABar_PlaysThatBarAsBeforeAndReplays(int at, bool countIn)
    {
        var whole = Band();
        PlayOut(whole);
        var band = Band();
        band.ReadBars(3);
        band.Engine.Post(EngineCommand.Stop(0.2));
        PlayOut(band);
        Assert.Equal(TransportState.Stopped, band.Engine.Playhead.State);

        band.PlayAgain(StartPoint.At(at, band.Conductor.State, countIn));
        PlayOut(band);

        var numbers = band.Played.Select(bar => bar.Index).ToList();
        Assert.Equal(countIn ? [-1, .. Enumerable.Range(at, 17 - at)] : Enumerable.Range(at, 17 - at), numbers);
        Assert.All(band.Played.Where(bar => bar.Index >= 0), bar => Assert.Equal(whole.Played[bar.Index].Notes, bar.Notes));
        if (countIn)
        {
            // The chord of the bar that follows, and the clicks.
            Assert.Equal(whole.Played[at].Chords[0].Symbol, band.Played[0].Chords[0].Symbol);
            Assert.Contains(band.Played[0].Notes, note => note.Role == Music.Band.Role.Count);
        }

        var heard = new List<float>();
        var log = PerformanceLog.Read(band.Conductor.Log.Write());
        LogReplay.Play(log, log.Opening(Chart, InstrumentFile.BuiltIn), _ => new EventSynth(LedBand.Rate), LedBand.Options, band.Frame, piece => heard.AddRange(piece));
        Assert.Equal(band.Samples, heard);
    }

    // Once a bug: the whole new start, with its count-in, was at the ramp's final tempo.
    [Theory]
    [InlineData(3, true, 0.65)]
    [InlineData(3, false, 0.65)]
    [InlineData(0, true, 0.5)]
    [InlineData(8, true, 0.9)]
    [InlineData(10, true, 1)]
    public void PlayAgain_InsideARamp_CountsInAndGoesOnAtTheTempoThere(int at, bool countIn, double expected)
    {
        var band = Band(ends: false);
        band.Do("tempo 210");
        band.ReadBars(1);
        band.Do("ramp 420 over 10");
        band.ReadBars(3);
        band.Engine.Post(EngineCommand.Stop(0.1));
        PlayOut(band);
        Assert.Equal(3, band.Conductor.Played.Index);
        Assert.Equal(1, band.Conductor.State.Orders.Ramp!.FromOrdinal);

        var (ordinal, index) = band.Conductor.Played;
        band.PlayAgain(StartPoint.At(at, band.Conductor.State, countIn).InRamp(band.Conductor.State, ordinal, index));
        band.ReadBars(countIn ? 2 : 1);

        // As a share of the chart's tempo: the ramp from 0.5 has 10 bars, from bar 1 on.
        double Share(Music.Bars.Bar bar, int tempo) => (bar.Tempi[tempo].Tempo.WholesPerMinute * band.Conductor.State.Speed).ToDouble() / 52.5;
        if (countIn)
        {
            var leadIn = Assert.Single(band.Played[0].Tempi);
            Assert.Equal(0.5 + (0.05 * Math.Clamp(at - 1, 0, 10)), (leadIn.Tempo.WholesPerMinute * band.Conductor.State.Speed).ToDouble() / 52.5, 0.001);
        }

        Assert.Equal(at, band.Played[^1].Index);
        Assert.InRange(Share(band.Played[^1], 0), expected - 0.06, expected + 0.01);
        Assert.Equal(at is > 0 and < 11, band.Played[^1].Tempi.Count > 1);

        // The log says so too.
        var read = PerformanceLog.Read(band.Conductor.Log.Write()).Records.OfType<AgainRecord>().Single();
        Assert.Equal(band.Conductor.Log.Records.OfType<AgainRecord>().Single(), read);
    }

    [Fact]
    public void PlayAgain_AtABarInALoop_TheLoopGoesOnAndTheEndComesAfterIt()
    {
        var band = Band();
        band.Do("loop section");
        band.ReadBars(6);

        band.PlayAgain(StartPoint.At(2, band.Conductor.State, countIn: true));
        band.ReadBars(6);
        Assert.Equal([-1, 2, 3, 0, 1, 2], band.Played.Take(6).Select(bar => bar.Index));

        band.Do("go-on");
        PlayOut(band);
        Assert.True(band.Played[^1].IsEnding);
    }

    [Fact]
    public void Do_ChangeInTheLeadInToABar_KeepsThePlace()
    {
        var band = Band();
        band.ReadBars(2);
        band.PlayAgain(StartPoint.At(6, band.Conductor.State, countIn: true));
        band.Read(LedBand.Rate / 2);
        band.Do("up 2");
        band.Do("undo");
        band.Do("up 3");
        band.ReadBars(3);

        Assert.Equal([-1, 6, 7], band.Played.Take(3).Select(bar => bar.Index));
    }

    [Fact]
    public void At_BarAfterTheEnd_IsTheTop() => Assert.Equal(
        StartPoint.Top(true), StartPoint.At(16, new StartOptions { Ends = true }.Opening(Chart, InstrumentFile.BuiltIn), countIn: true));

    [Fact]
    public void Read_LogOfAnEarlierVersion_PlaysAgainFromTheTopAndTheFormRepeats()
    {
        var log = PerformanceLog.Read("performance-log 1\nchart x Song\nseed 1\nagain 48000\n");

        Assert.Equal(new AgainRecord(48000), Assert.Single(log.Records));
        Assert.False(log.Header.Options.Ends);
        Assert.Null(log.Opening(Chart, InstrumentFile.BuiltIn).Orders.Passes);
    }

    [Fact]
    public void Stop_WhileTheBandPlays_FadesWithoutAJump()
    {
        var band = Band();
        band.ReadBars(2);
        var loud = band.Samples.TakeLast(LedBand.Rate).Max(Math.Abs);
        var from = band.Samples.Count;
        band.Engine.Post(EngineCommand.Stop(0.3));
        PlayOut(band);

        // A fade that is a line ends at nothing: the last hundredth of it is below a hundredth of the loudest sample.
        var faded = band.Samples.Skip(from).ToList();
        Assert.InRange(faded.Count, 2 * LedBand.Rate * 3 / 10, 2 * LedBand.Rate * 4 / 10);
        Assert.True(loud > 0);
        Assert.True(faded.TakeLast(2 * LedBand.Rate * 3 / 1000).Max(Math.Abs) <= loud / 50);
    }
}
