using System.Security.Cryptography;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>A failure in composing leaves nothing behind, whatever the step and however often it happens.</summary>
[Collection(Alone)]
public sealed class ComposerFailureTests
{
    // The test measures the memory of the whole process.
    private const string Alone = "alone";

    // A bar is an eighth, 2000 frames.
    private const int BarFrames = 2000;
    private const int Bars = 12;
    private static readonly Tempo Quick = Tempo.Of(Span.Of(1, 8), 60 * Rate / BarFrames);

    [Fact]
    public void Fill_TenThousandRandomFailuresThatPass_PlaysOnBitIdentically()
    {
        var unfailing = new Chaos(seed: 0, mostForABar: 0);
        var (expected, calm) = Play(unfailing, bars: 3000);
        var chaos = new Chaos(seed: 1, mostForABar: 9);

        var (samples, shaken) = Play(chaos, bars: 3000);

        Assert.InRange(chaos.Failures, 10_000, long.MaxValue);
        Assert.Equal(expected, samples);
        Assert.Equal(calm.Epoch, shaken.Epoch);
        Assert.Equal(calm.Ons, shaken.Ons);
        Assert.Equal(0, shaken.FailedBars);
        Assert.Equal(chaos.Failures, shaken.Recorded);
        Assert.InRange(shaken.Kinds, 2, 32);
        Assert.Equal(BarQueue.Capacity, shaken.Kept);

        // Ten thousand exceptions with their stack traces would take tens of megabytes.
        Assert.InRange(shaken.Grown, long.MinValue, 1_000_000);
    }

    [Fact]
    public void Fill_EveryFifthBarNeverSucceeds_RepeatsTheBarBeforeAndKeepsTheOthersInPlace()
    {
        var chaos = new Chaos(seed: 2, mostForABar: 0) { Hopeless = index => index % 5 == 3 };

        var (_, shaken) = Play(chaos, bars: 1000);

        Assert.InRange(shaken.FailedBars, 195, 205);
        Assert.Equal(BarQueue.Capacity, shaken.Kept);
        Assert.InRange(shaken.Grown, long.MinValue, 1_000_000);
    }

    [Fact]
    public void Continue_ToBarsThatFail_GoesOverAllTheSame()
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(new Cycle(50, "one", null))) { RepeatsOnFailure = true };
        ReadOn(engine, bars, 12 * BarFrames);
        var chaos = new Chaos(seed: 3, mostForABar: 0) { Hopeless = index => index < 24 };

        var change = bars.Continue(new ChaosRoute(new Cycle(70, "two", chaos), 0, chaos));
        ReadOn(engine, bars, 40 * BarFrames);

        Assert.Equal(BarChangeState.Settled, change.State);
        Assert.InRange(bars.FailedBars, 1, 24);
        Assert.Equal((long)engine.Playhead.Ordinal, engine.Playhead.BarIndex);
        Assert.InRange(synth.Ons.Last().Key, 70, 70 + Bars);
        Assert.Equal(default, engine.Counters);
    }

    [Fact]
    public void Continue_RouteThatCannotSayWhereItBegins_ComesInWithTheSameBar()
    {
        var engine = new GrooveEngine(new RecordingSynth(), new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(new Cycle(50, "one", null))) { RepeatsOnFailure = true };
        ReadOn(engine, bars, 12 * BarFrames);

        var change = bars.Continue(new Lost(new Cycle(70, "two", null), 0));
        ReadOn(engine, bars, 40 * BarFrames);

        Assert.Equal(BarChangeState.Settled, change.State);
        Assert.Equal(change.Ordinal, change.Route.From);
        Assert.Equal(0, bars.FailedBars);
        Assert.Equal("changing to other bars", Assert.Single(bars.Failures.All).Doing);
    }

    [Fact]
    public void Fill_SoundThatCannotBeHad_PlaysWithoutItAndSaysSo()
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(
            engine,
            BarRoute.Whole(new Cycle(50, "one", null)),
            prepareProgram: (channel, _) => _ = engine.Playhead.Ordinal >= 0 && channel == 0 ? throw new IOException("disk gone") : 0)
        {
            RepeatsOnFailure = true,
        };
        ReadOn(engine, bars, 12 * BarFrames);

        bars.Continue(BarRoute.Whole(new Cycle(70, "two", null)));
        ReadOn(engine, bars, 40 * BarFrames);

        Assert.Equal(0, bars.FailedBars);
        Assert.InRange(synth.Ons.Last().Key, 70, 70 + Bars);
        Assert.Contains(bars.Failures.All, failure => failure is { Doing: "preparing the sound of two", Message: "disk gone" });
    }

    [Fact]
    public void PrepareNext_OfflineSourceThatFailsOnce_ThrowsAndIsWholeAtTheNextCall()
    {
        var chaos = new Chaos(seed: 4, mostForABar: 0) { HopelessOnce = 5 };
        var player = Player(new Cycle(50, "one", chaos), new RecordingSynth());
        var whole = new float[2 * 10 * BarFrames];
        Player(new Cycle(50, "one", null), new RecordingSynth()).Read(whole);
        var samples = new float[whole.Length];

        Assert.Throws<InvalidOperationException>(() => player.Read(samples));
        player.Read(samples);

        Assert.Equal(whole, samples);
    }

    // Reads bars, sometimes changes to other ones, and composes between the reads like a composer thread.
    private static (string Samples, Outcome Outcome) Play(Chaos chaos, int bars)
    {
        var synth = new RecordingSynth();
        var engine = new GrooveEngine(synth, new EngineOptions { TailSeconds = 0 });
        var composer = new BarPreparer(
            engine,
            new ChaosRoute(new Cycle(40, "one", chaos), 0, chaos),
            _ =>
            {
                chaos.MayFail("plays");
                return true;
            },
            (_, _) => chaos.MayFail("prepare"))
        {
            RepeatsOnFailure = true,
        };
        composer.Fill();
        chaos.IsArmed = true;
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        var block = new float[2 * 500];
        var changes = 0;
        long memory = 0;
        while (engine.Playhead.Ordinal < bars)
        {
            if (engine.Playhead.Ordinal / 40 > changes)
            {
                changes++;
                var source = new Cycle(30 + (changes % 40), changes % 3 == 0 ? "one" : "two", chaos);
                _ = changes % 2 == 0 ? composer.Replace(source) : composer.Continue(new ChaosRoute(source, 0, chaos));
            }

            for (var turn = 0; turn < 40; turn++)
            {
                composer.Fill();
            }

            engine.Read(block);
            hash.AppendData(System.Runtime.InteropServices.MemoryMarshal.AsBytes(block.AsSpan()));
            while (engine.TryTakeReport(out _))
            {
            }

            if (memory == 0 && engine.Playhead.Ordinal > bars / 4)
            {
                memory = Memory(synth);
            }
        }

        var grown = Memory(synth) - memory;
        Assert.Equal(default, engine.Counters);
        engine.Post(EngineCommand.Stop(0));
        while (engine.Read(block) > 0)
        {
            composer.Fill();
        }

        AssertNothingHangs(synth);
        var onGrid = synth.Ons.All(on => (on.Frame - 9600) % (BarFrames / 2) == 0);
        Assert.True(onGrid);

        // The engine keeps the playing bar, and the composer may keep a prepared one.
        var (empty, ready) = engine.Queue.Waiting;
        var lent = (engine.Playhead.Bar is null ? 0 : 1) + (composer.HasSpare ? 1 : 0);
        return (Convert.ToHexString(hash.GetHashAndReset()), new Outcome(
            engine.Queue.AcceptedEpoch,
            synth.Ons.Count(),
            composer.FailedBars,
            composer.Failures.Total,
            composer.Failures.All.Count,
            empty + ready + lent,
            grown));
    }

    [CollectionDefinition(Alone, DisableParallelization = true)]
    public sealed class AloneDefinition;

    private static long Memory(RecordingSynth synth)
    {
        GC.KeepAlive(synth);
        return GC.GetTotalMemory(forceFullCollection: true);
    }

    private static void ReadOn(GrooveEngine engine, BarPreparer bars, int frames)
    {
        var block = new float[2 * 500];
        for (var until = engine.Playhead.Frame + frames; engine.Playhead.Frame < until;)
        {
            bars.Fill();
            engine.Read(block);
        }
    }

    private sealed record Outcome(int Epoch, int Ons, long FailedBars, long Recorded, int Kinds, int Kept, long Grown);

    /// <summary>Fails at random, but only a limited number of times for each bar or change.</summary>
    private sealed class Chaos(int seed, int mostForABar)
    {
        private readonly Random _chance = new(seed);
        private int _left;
        private bool _failedOnce;

        public bool IsArmed { get; set; }

        public Func<int, bool> Hopeless { get; init; } = _ => false;

        public int HopelessOnce { get; init; } = -1;

        public long Failures { get; private set; }

        // Each bar has its own limit of failures.
        public void Next() => _left = mostForABar;

        public void MayFail(string where)
        {
            if (IsArmed && _left > 0 && _chance.Next(3) > 0)
            {
                _left--;
                Failures++;
                throw (_chance.Next(3)) switch
                {
                    0 => new InvalidOperationException("failed in " + where),
                    1 => new OutOfMemoryException("failed in " + where),
                    _ => new KeyNotFoundException("failed in " + where),
                };
            }
        }

        public void MayFail(string where, int index)
        {
            if (index == HopelessOnce && !_failedOnce)
            {
                _failedOnce = true;
                throw new InvalidOperationException("failed once");
            }

            if (Hopeless(index))
            {
                throw new InvalidOperationException("never succeeds");
            }

            MayFail(where);
        }
    }

    /// <summary>Repeats twelve short bars, each with a note across its bar line; every step may fail.</summary>
    private sealed class Cycle(int key, string name, Chaos? chaos) : IBarSource
    {
        private readonly TestBars _bars = Of([.. Enumerable.Range(0, Bars).Select(i => Bar(
            1, 8, Quick, Note(Span.Zero, Span.Of(1, 8), key + i), Note(Span.Of(1, 16), Span.Of(1, 8), key + 12 + i)))]);

        private readonly PartChannels[] _band = [BandPart(name, 0, program: key % 3)];

        public int First => 0;

        public int? End
        {
            get
            {
                chaos?.MayFail("end");
                return null;
            }
        }

        public IReadOnlyList<PartChannels> Band
        {
            get
            {
                chaos?.MayFail("band");
                return _band;
            }
        }

        public PieceHeading Heading => _bars.Heading;

        public Bar BarAt(int index)
        {
            chaos?.MayFail("bar", index);
            return _bars.BarAt(index % Bars) with { Index = index, Start = Position.Zero + (Span.Of(1, 8) * index) };
        }
    }

    private sealed record ChaosRoute(IBarSource Source, int From, Chaos Chaos) : BarRoute(Source, From)
    {
        private int _last = -1;

        public override int After(int index, int ordinal)
        {
            Chaos.MayFail("after");

            // The last call for a bar: from here on it succeeds.
            if (_last != index)
            {
                _last = index;
                Chaos.Next();
            }

            return base.After(index, ordinal);
        }

        public override int TakeOver(BarRoute before, int index, int ordinal)
        {
            Chaos.MayFail("take over");
            return index + 1;
        }
    }

    private sealed record Lost(IBarSource Source, int From) : BarRoute(Source, From)
    {
        public override int TakeOver(BarRoute before, int index, int ordinal) => throw new InvalidOperationException("no way in");
    }
}
