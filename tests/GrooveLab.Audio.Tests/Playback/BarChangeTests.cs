using CsCheck;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class BarChangeTests
{
    private const long PreRoll = 9600;

    // A bar of 5/8 at eighth = 300: 48000 frames.
    private const long BarFrames = 48_000;

    [Theory]
    [InlineData(2880, 2)]
    [InlineData(2881, 2)]
    [InlineData(2879, 3)]
    [InlineData(64, 3)]
    [InlineData(40_000, 2)]
    public void Replace_AskedBeforeALine_TakesEffectThereUnlessItIsCloserThan60Milliseconds(int framesBefore, int bar)
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(key: 60, count: 8)), synth);
        ReadTo(player, PreRoll + (2 * BarFrames) - framesBefore);

        var change = player.Bars.Replace(Of(Bars(key: 72, count: 8)));
        ReadAll(player);

        Assert.Equal(BarChangeState.Settled, change.State);
        Assert.Equal(bar, change.Ordinal);
        var line = PreRoll + (bar * BarFrames);
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < line ? 60 : 72, on.Key));
        Assert.Equal(40, synth.Ons.Count());
        Assert.Contains(Reports(player), report => report is { Kind: EngineReportKind.ReplaceBegun } && report.Frame == line);
        AssertNothingHangs(synth);
    }

    [Fact]
    public void Replace_FromALaterBar_WaitsForIt()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 12)), synth);
        ReadTo(player, PreRoll + 100);

        var change = player.Bars.Replace(Of(Bars(72, 12)), fromBar: 7);
        ReadAll(player);

        Assert.Equal(7, change.Ordinal);
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < PreRoll + (7 * BarFrames) ? 60 : 72, on.Key));
    }

    [Fact]
    public void Replace_ByAnotherMeterAndTempo_NumbersGoOnAndTimeFollows()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 8)), synth);
        ReadTo(player, PreRoll + BarFrames + 100);
        var slow = Tempo.Of(Span.Of(1, 12), 200);

        player.Bars.Replace(Of(Enumerable.Range(0, 8).Select(i => Units(7, 12, slow, key: 70 + i)).ToList()));
        ReadAll(player);

        // A twelfth at 200 a minute lasts 14400 frames. Bars 2 to 7 are the new ones.
        var changed = synth.Ons.Where(on => on.Frame >= PreRoll + (2 * BarFrames)).ToList();
        Assert.Equal(Enumerable.Range(0, 42).Select(i => PreRoll + (2 * BarFrames) + (14_400L * i)), changed.Select(on => on.Frame));
        Assert.Equal(Enumerable.Range(0, 42).Select(i => 72 + (i / 7)), changed.Select(on => on.Key));
        Assert.Equal(PreRoll + (2 * BarFrames) + (42 * 14_400) + 96_000, player.Engine.Playhead.Frame);
    }

    [Fact]
    public void Replace_HeldNoteThatGoesOn_IsNotStruckAgain()
    {
        // Old and new bars hold key 50 from bar 0 for three bars; the old ones also hold 53, the new ones 57: one continues, one ends, one begins.
        var band = new[] { BandPart("held", 0, technique: Technique.Bow) };
        var synth = new RecordingSynth();
        var player = Player(Of(Held(53), band), synth);
        ReadTo(player, PreRoll + (BarFrames / 2));

        player.Bars.Replace(Of(Held(57), band));
        ReadAll(player);

        var line = PreRoll + BarFrames;
        var end = PreRoll + (3 * BarFrames);
        Assert.Equal([(50, PreRoll), (53, PreRoll), (57, line)], synth.Ons.Select(on => (on.Key, on.Frame)).OrderBy(on => on.Key));
        Assert.Equal([(50, end), (53, line), (57, end)], synth.Offs.Select(off => (off.Key, off.Frame)).OrderBy(off => off.Key));
    }

    [Fact]
    public void Replace_NoteThatLedItsDroppedBar_EndsAtTheLine()
    {
        // Old bar 1 begins 90 ms early; the change is requested 70 ms before the bar line, when that note already sounds.
        Bar[] old = [Units(5, 8, Brisk), Bar(5, 8, Brisk, Note(Span.Zero, Span.Of(5, 8), key: 80, offset: -90_000))];
        var synth = new RecordingSynth();
        var player = Player(Of(old), synth);
        ReadTo(player, PreRoll + BarFrames - 3360);

        player.Bars.Replace(Of(Bars(72, 2)));
        ReadAll(player);

        Assert.Equal(PreRoll + BarFrames - 4320, synth.Ons.Single(on => on.Key == 80).Frame);
        Assert.Equal(PreRoll + BarFrames, synth.Offs.Single(off => off.Key == 80).Frame);
        AssertNothingHangs(synth);
    }

    [Fact]
    public void Replace_TwiceBeforeTheLine_TheLaterOneHolds()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 4)), synth);
        ReadTo(player, PreRoll + 100);

        var first = player.Bars.Replace(Of(Bars(65, 4)));
        var second = player.Bars.Replace(Of(Bars(70, 4)));
        ReadTo(player, PreRoll + 5000);
        var third = player.Bars.Replace(Of(Bars(75, 4)));
        ReadAll(player);

        Assert.Equal(BarChangeState.Superseded, first.State);
        Assert.Equal((BarChangeState.Settled, 1), (second.State, second.Ordinal));
        Assert.Equal((BarChangeState.Settled, 1), (third.State, third.Ordinal));
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < PreRoll + BarFrames ? 60 : 75, on.Key));
    }

    [Fact]
    public void Replace_WhoseBarsComeAfterTheLine_IsPutOffToTheNext()
    {
        // The change is sent for bar 1, but the engine begins bar 1 before it checks: refused, and sent again for bar 2.
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var source = Of(Bars(60, 8));
        var bars = new BarPreparer(engine, BarRoute.Whole(source));
        bars.FillFor(3 * Rate);
        var block = new float[2 * 64];
        while (engine.Playhead.Frame < PreRoll + BarFrames - 3200)
        {
            engine.Read(block);
        }

        var change = bars.Replace(Of(Bars(72, 8)));
        while (engine.Playhead.Frame < PreRoll + BarFrames + 640)
        {
            engine.Read(block);
        }

        bars.Fill();
        Assert.Equal(BarChangeState.Sent, change.State);
        Assert.Equal(2, change.Ordinal);
        for (var i = 0; i < 10_000 && engine.Playhead.State < TransportState.Ringing; i++)
        {
            bars.FillFor(64);
            engine.Read(block);
        }

        Assert.Equal((BarChangeState.Settled, 2), (change.State, change.Ordinal));
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < PreRoll + (2 * BarFrames) ? 60 : 72, on.Key));
        Assert.Equal(0, engine.Counters.LateBars);
    }

    [Fact]
    public void GoAt_ForABarThatPlaysAlready_IsRefusedAndSentAgain()
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(Of(Bars(60, 8))));
        bars.FillFor(6 * Rate);
        var block = new float[2 * 64];
        while (engine.Playhead.Frame < PreRoll + 6400)
        {
            engine.Read(block);
        }

        // Sent for bar 1 at once, but the engine does not read for longer than the bar, so it takes nothing from the queue meanwhile.
        var change = bars.GoAt(new BarRoute(Of(Bars(72, 8)), 1), 1);
        bars.Fill();
        Assert.Equal((BarChangeState.Sent, 1), (change.State, change.Ordinal));
        while (engine.Playhead.Frame < PreRoll + (4 * BarFrames))
        {
            bars.FillFor(64);
            engine.Read(block);
        }

        Assert.Equal(BarChangeState.Settled, change.State);
        AssertKeysChangeOnce(synth, PreRoll + (change.Ordinal * BarFrames));
    }

    [Fact]
    public void Replace_AfterTheEnd_IsTooLate()
    {
        var player = Player(Of(Bars(60, 1)), new RecordingSynth());
        ReadTo(player, PreRoll + BarFrames + 1000);

        var change = player.Bars.Replace(Of(Bars(72, 8)));
        ReadAll(player);

        Assert.Equal(BarChangeState.TooLate, change.State);
    }

    [Fact]
    public void Replace_ByALongerPieceBeforeTheEnd_GoesOn()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 1)), synth);
        ReadTo(player, PreRoll + 1000);

        player.Bars.Replace(Of(Bars(72, 3)));
        ReadAll(player);

        Assert.Equal([.. Enumerable.Repeat(60, 5), .. Enumerable.Repeat(72, 10)], synth.Ons.Select(on => on.Key));
    }

    [Fact]
    public void Replace_BandWithOtherSounds_StartsItAndKeepsWhatWasSetByHand()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 4), [BandPart("one", 0, level: -6)]), synth);
        ReadTo(player, PreRoll + 640);
        player.Engine.Post(EngineCommand.PartLevel(0, -12));
        ReadTo(player, PreRoll + 6400);

        player.Bars.Replace(Of(
            [.. Bars(60, 4).Select(bar => bar with { Notes = [.. bar.Notes.Select(note => note with { Part = 1 })] })],
            [BandPart("new", 3, level: 12, program: 99), BandPart("one", 1, level: -6, program: 24)]));
        ReadTo(player, PreRoll + (3 * BarFrames));

        Assert.Contains(synth.Calls, call => call is { Kind: CallKind.Program, Channel: 3, Key: 99 });
        Assert.Equal(127, synth.Calls.Last(call => call is { Kind: CallKind.Control, Channel: 3, Key: 7 }).Value);
        Assert.Equal(32, synth.Calls.Last(call => call is { Kind: CallKind.Control, Channel: 1, Key: 7 }).Value);
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < PreRoll + BarFrames ? 0 : 1, on.Channel));
    }

    [Fact]
    public void Replace_DuringALeadInByBarsWithoutOne_BeginsAtTheirFirst()
    {
        var synth = new RecordingSynth();
        var player = Player(Of(Bars(60, 4), leadIns: 1), synth);
        ReadTo(player, 640);

        player.Bars.Replace(Of(Bars(72, 2)));
        ReadAll(player);

        Assert.Equal([.. Enumerable.Repeat(72, 10)], synth.Ons.Select(on => on.Key));
        Assert.Equal(PreRoll, synth.Ons.First().Frame);
    }

    [Fact]
    public void Go_ToABarThatIsNotThere_Throws()
    {
        var player = Player(Of(Bars(60, 4)), new RecordingSynth());

        Assert.Throws<ArgumentOutOfRangeException>(() => player.Bars.Go(new BarRoute(Of(Bars(72, 2)), 2)));
    }

    [Fact]
    public void Go_Loop_GoesAround()
    {
        var source = Of([.. Enumerable.Range(0, 8).Select(i => Units(5, 8, Brisk, key: 60 + i))]);
        var synth = new RecordingSynth();
        var player = Player(source, synth);
        ReadTo(player, PreRoll + 1000);

        player.Bars.Go(new BarRoute(source, 4, Loop: new BarLoop(4, 6)));
        ReadTo(player, PreRoll + (7 * BarFrames));

        var firsts = synth.Ons.Where((_, i) => i % 5 == 0).Select(on => on.Key);
        Assert.Equal([60, 64, 65, 64, 65, 64, 65], firsts);
        Assert.Equal(Enumerable.Range(0, 35).Select(i => PreRoll + (9600L * i)), synth.Ons.Select(on => on.Frame));
        Assert.Equal((6, 5), (player.Engine.PlayheadAt(PreRoll + (7 * BarFrames) - 1).Ordinal, player.Engine.Playhead.BarIndex));
    }

    [Fact]
    public void Read_RandomChangesPlayedAgainFromTheLog_IsBitIdentical()
    {
        Gen.Select(Gen.Int[1, 40], Gen.Int[0, 5], Gen.Int[0, 11]).Array[5, 40].Sample(
            steps =>
            {
                var (samples, log, changes, synth) = Perform(steps);
                AssertNothingHangs(synth);
                Assert.Equal(samples, Replay(log, changes, samples.Length));
            },
            iter: 15,
            threads: 1);
    }

    private static (float[] Samples, List<EngineReport> Log, List<BarChange> Changes, RecordingSynth Synth) Perform(
        (int Reads, int Kind, int Value)[] steps)
    {
        var synth = new RecordingSynth();
        var player = Player(EngineContractTests.Song(endless: true), synth);
        var samples = new List<float>();
        var changes = new List<BarChange>();
        var block = new float[2 * 441];
        foreach (var (reads, kind, value) in steps)
        {
            for (var i = 0; i < reads; i++)
            {
                player.Read(block);
                samples.AddRange(block);
            }

            switch (kind)
            {
                case 0:
                    player.Engine.Post(EngineCommand.Speed(new Rational(8 + value, 12)));
                    break;
                case 1:
                    player.Engine.Post(EngineCommand.PartLevel(value % 3, -value));
                    break;
                case 2:
                    player.Engine.Post(EngineCommand.PartMute(value % 3, value < 6));
                    break;
                case 3:
                    player.Engine.Post(EngineCommand.MasterLevel(-value));
                    break;
                case 4:
                    changes.Add(player.Bars.Replace(EngineContractTests.Song(endless: true, key: 30 + value)));
                    break;
                default:
                    changes.Add(player.Bars.Go(new BarRoute(EngineContractTests.Song(endless: true, key: 40 + value), value % 5)));
                    break;
            }
        }

        player.Engine.Post(EngineCommand.Stop(0.1));
        samples.AddRange(ReadAll(player, () => 441));
        return ([.. samples], [.. Reports(player)], changes, synth);
    }

    private static float[] Replay(List<EngineReport> log, List<BarChange> changes, int length)
    {
        var player = Player(EngineContractTests.Song(endless: true), new RecordingSynth());
        var settled = new Queue<BarChange>(changes.Where(change => change.State == BarChangeState.Settled));
        var samples = new List<float>();
        void ReadUpTo(long frame)
        {
            var block = new float[2 * (frame - (samples.Count / 2))];
            Assert.Equal(block.Length, player.Read(block));
            samples.AddRange(block);
        }

        foreach (var entry in log)
        {
            if (entry.Kind == EngineReportKind.Done)
            {
                ReadUpTo(entry.Frame);
                player.Engine.Post(entry.Command);
            }
            else if (entry.Kind == EngineReportKind.ReplaceAccepted)
            {
                ReadUpTo(entry.Frame);
                player.Bars.GoAt(settled.Dequeue().Route, entry.Ordinal);
            }
        }

        samples.AddRange(ReadAll(player, () => 4096));
        Assert.Equal(length, samples.Count);
        return [.. samples];
    }

    private static void AssertKeysChangeOnce(RecordingSynth synth, long line)
    {
        Assert.All(synth.Ons, on => Assert.Equal(on.Frame < line ? 60 : 72, on.Key));
        AssertNothingHangs(new RecordingSynth());
    }

    private static List<Bar> Bars(int key, int count) => [.. Enumerable.Range(0, count).Select(_ => Units(5, 8, Brisk, key))];

    private static List<Bar> Held(int other) =>
    [
        Bar(5, 8, Brisk, Note(Span.Zero, Span.Of(15, 8), key: 50), Note(Span.Zero, Span.Of(15, 8), key: other)),
        Bar(5, 8, Brisk),
        Bar(5, 8, Brisk),
    ];
}
