using CsCheck;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>The music when bars arrive early, just in time, late or never.</summary>
public sealed class BarSupplyTests
{
    private const long PreRoll = 9600;

    [Fact]
    public void Read_BarsAtRandomTimes_NeverMovesANoteAndLeavesNoneHanging()
    {
        Gen.Select(Gen.Int[0, 2], Gen.Int[1, 40]).Array[20, 200].Sample(
            schedule =>
            {
                var synth = new RecordingSynth();
                var engine = new GrooveEngine(synth, new EngineOptions { TailSeconds = 0 });
                var bars = new BarPreparer(engine, BarRoute.Whole(Of([.. Enumerable.Range(0, 30).Select(i => Units(3 + (i % 3), 16, Brisk))])));
                var block = new float[2 * 480];
                var step = 0;
                while (engine.Read(block) == block.Length && step < 5000)
                {
                    var (count, reads) = schedule[step++ % schedule.Length];
                    for (var i = 0; i < Math.Max(count, step > 2000 ? 1 : 0); i++)
                    {
                        bars.PrepareNext();
                    }

                    for (var i = 0; i < reads % 5; i++)
                    {
                        engine.Read(block);
                    }
                }

                var exact = Enumerable.Range(0, 120).Select(i => PreRoll + (4800L * i)).ToHashSet();

                // Notes at most 20 ms late play at once, at the start of a block; all others on their frame or not at all.
                Assert.All(synth.Ons, on => Assert.True(
                    exact.Contains(on.Frame) || (on.Frame % 64 == 0 && exact.Any(frame => on.Frame - frame is > 0 and <= 960 + 64)),
                    $"An onset on frame {on.Frame}."));
                AssertNothingHangs(synth);
                var counters = engine.Counters;
                Assert.True(synth.Ons.Count() == 120 || counters.LateBars > 0);
                Assert.Equal(0, counters.Faults);
                Assert.Equal(120, synth.Ons.Count() + counters.DroppedEvents);
            },
            iter: 40,
            threads: 1);
    }

    [Fact]
    public void Read_NoBarInTime_KeepsMusicalTimeAndCounts()
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(Of([.. Enumerable.Range(0, 4).Select(i => Units(5, 8, Brisk, key: 60 + i))])));
        bars.PrepareNext();
        var block = new float[2 * 480];
        while (engine.Playhead.Frame < PreRoll + 60_000)
        {
            engine.Read(block);
        }

        Assert.Equal(1, engine.Counters.LateBars);
        bars.Fill();
        while (engine.Playhead.Frame < PreRoll + (3 * 48_000))
        {
            engine.Read(block);
        }

        // Bar 1 came 12000 frames late, when two of its five eighths were over. Bar 2 starts on its bar line.
        Assert.Equal([60, 60, 60, 60, 60, 61, 61, 61, 62, 62, 62, 62, 62], synth.Ons.Select(on => on.Key));
        Assert.Equal(PreRoll + 96_000, synth.Ons.First(on => on.Key == 62).Frame);
        Assert.Equal(1, engine.Counters.LateBars);
    }

    [Fact]
    public void Fill_SourceThatGoesOnFailing_RepeatsTheBarBeforeWhenItIsDue()
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(new Broken(Of([.. Enumerable.Range(0, 4).Select(i => Units(2, 4, Brisk, key: 60 + i))]))))
        {
            RepeatsOnFailure = true,
        };
        var block = new float[2 * 480];
        do
        {
            bars.Fill();
        }
        while (engine.Read(block) == block.Length);

        Assert.Equal([60, 60, 61, 61, 61, 61, 63, 63], synth.Ons.Select(on => on.Key));
        Assert.Equal(1, bars.FailedBars);
        var failure = Assert.Single(bars.Failures.All);
        Assert.Equal(("composing a bar", "InvalidOperationException", "no such chord"), (failure.Doing, failure.Kind, failure.Message));
        Assert.EndsWith("Broken.BarAt", failure.Place, StringComparison.Ordinal);
        Assert.InRange(failure.Count, 3, 50);
    }

    [Fact]
    public void Read_OfflineSourceThatFails_Throws()
    {
        var player = Player(new Broken(Of([.. Enumerable.Range(0, 4).Select(i => Units(2, 4, Brisk, key: 60 + i))])), new RecordingSynth());

        Assert.Throws<InvalidOperationException>(() => ReadAll(player));
    }

    [Fact]
    public async Task Fill_OnAThreadOfItsOwn_FeedsTheEngineBitIdentically()
    {
        var expected = new float[2 * 40 * Rate];
        Player(EngineContractTests.Song(endless: true), new RecordingSynth()).Read(expected);
        var engine = new GrooveEngine(new RecordingSynth(), new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(EngineContractTests.Song(endless: true)));
        bars.FillFor(5 * Rate);
        using var done = new CancellationTokenSource();
        var composer = Task.Run(
            () =>
            {
                while (!done.IsCancellationRequested)
                {
                    bars.FillFor(5 * Rate);
                }
            },
            TestContext.Current.CancellationToken);

        // The reader waits for bars like a device's clock; how far ahead they are changes nothing.
        var samples = new float[expected.Length];
        for (var at = 0; at < samples.Length; at += 2 * 480)
        {
            while (bars.BarsAhead < 2)
            {
                await Task.Yield();
            }

            engine.Read(samples.AsSpan(at, 2 * 480));
        }

        await done.CancelAsync();
        await composer;
        Assert.Equal(default, engine.Counters);
        Assert.Equal(expected, samples);
    }

    private sealed class Broken(IBarSource source) : IBarSource
    {
        public int First => source.First;

        public int? End => source.End;

        public IReadOnlyList<PartChannels> Band => source.Band;

        public PieceHeading Heading => source.Heading;

        public Bar BarAt(int index) => index == 2 ? throw new InvalidOperationException("no such chord") : source.BarAt(index);
    }
}
