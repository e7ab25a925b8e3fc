using CsCheck;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class EngineContractTests
{
    private const long PreRoll = 9600;

    public static TheoryData<int> Chops => [1, 63, 64, 441, 4096];

    [Theory]
    [MemberData(nameof(Chops))]
    public void Read_ChoppedInAnySize_IsBitIdentical(int frames)
    {
        var whole = ReadAll(Player(Song(), new RecordingSynth(), limited: true), () => 8192);

        var chopped = ReadAll(Player(Song(), new RecordingSynth(), limited: true), () => frames);

        Assert.Equal(whole, chopped);
        Assert.Contains(whole, sample => Math.Abs(sample) > 0.01f);
    }

    [Fact]
    public void Read_ChoppedAtRandom_IsBitIdentical()
    {
        var whole = ReadAll(Player(Song(), new RecordingSynth(), limited: true));
        Gen.Int[1, 3000].Array[50, 400].Sample(
            sizes =>
            {
                var next = 0;
                var chopped = ReadAll(Player(Song(), new RecordingSynth(), limited: true), () => sizes[next++ % sizes.Length]);
                Assert.Equal(whole, chopped);
            },
            iter: 10,
            threads: 1);
    }

    [Fact]
    public void Read_FewerBars_IsAPrefixUpToTheirEnd()
    {
        var bars = Enumerable.Range(0, 12).Select(i => Units(5 + (i % 3), 8, Brisk, key: 50 + i)).ToList();
        var six = ReadAll(Player(Of(bars[..6]), new RecordingSynth()));
        var twelve = ReadAll(Player(Of(bars), new RecordingSynth()));

        var end = (int)(six.Length - (2 * 2 * Rate));

        Assert.Equal(twelve[..end], six[..end]);
    }

    [Fact]
    public void Read_Warm_AllocatesNothing()
    {
        var synth = new RecordingSynth { Records = false };
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(Song(endless: true)));
        var block = new float[2 * 441];
        void Cycle(int reads, Action read)
        {
            for (var i = 0; i < reads; i++)
            {
                bars.Fill();
                if (i % 50 == 10)
                {
                    engine.Post(EngineCommand.Speed(new Rational(90 + (i % 7), 100)));
                    engine.Post(EngineCommand.PartLevel(0, -(i % 13)));
                    engine.Post(EngineCommand.PartMute(1, i % 100 == 10));
                    engine.Post(EngineCommand.MasterLevel(-(i % 5)));
                }

                if (i % 200 == 100)
                {
                    bars.Replace(Song(endless: true, key: 40 + (i % 9)));
                    bars.Fill();
                }

                read();
                while (engine.TryTakeReport(out _))
                {
                }
            }
        }

        Cycle(2000, () => engine.Read(block));
        using var audio = new AudioThreadStandIn(engine, 441);
        Cycle(4000, audio.Read);

        Assert.Equal(0, audio.AllocatedBytes);
        Assert.Equal(default, engine.Counters);
        Assert.True(engine.Playhead.Ordinal > 20);
    }

    [Fact]
    public void Read_Beginning_StartsTheBand()
    {
        var band = new[]
        {
            BandPart("loud", 0, level: 12, pan: -100, program: 24),
            BandPart("plain", 1, level: 0, pan: 0, program: 32),
            BandPart("soft", 2, level: -12, pan: 50, program: 40),
        };
        var synth = new RecordingSynth();

        ReadAll(Player(Of([Units(3, 4, Brisk)], band), synth));

        // Channel volume is 40·log10(value/127) dB below the loudest, +12 dB (General MIDI level 1): 127, 64, 32.
        var before = synth.Calls.TakeWhile(call => call.Kind != CallKind.On).ToList();
        Assert.Equal([(0, 24), (1, 32), (2, 40)], before.Where(c => c.Kind == CallKind.Program).Select(c => (c.Channel, c.Key)));
        Assert.Equal([127, 64, 32], before.Where(c => c is { Kind: CallKind.Control, Key: 7 }).Select(c => c.Value));
        Assert.Equal([1, 64, 96], before.Where(c => c is { Kind: CallKind.Control, Key: 10 }).Select(c => c.Value));
    }

    [Fact]
    public void Read_PartsOfAFilter_OthersAreNeverHeardOf()
    {
        var band = new[] { BandPart("one", 0), BandPart("two", 1) };
        var bars = Bar(2, 4, Brisk, Note(Span.Zero, Span.Of(1, 4)), Note(Span.Of(1, 4), Span.Of(1, 4), part: 1));
        var synth = new RecordingSynth();

        ReadAll(Player(Of([bars], band), synth, plays: part => part.Name == "two"));

        Assert.Equal([1], synth.Calls.Where(call => call.Key != 120).Select(call => call.Channel).Distinct());
        Assert.Single(synth.Ons);
    }

    [Fact]
    public void Post_PartLevel_SlidesFromTheNextBlockOn()
    {
        var synth = new RecordingSynth();
        var player = Player(Of([Units(8, 4, Brisk)]), synth);
        ReadTo(player, 20_000);

        var id = player.Engine.Post(EngineCommand.PartLevel(0, -12));
        ReadTo(player, 30_000);

        // Frame 20000 is in the block that began at 19968; the next begins at 20032. From 64 to 32 in steps of 2 a block.
        var slide = synth.Calls.Where(call => call is { Kind: CallKind.Control, Key: 7, Frame: > 15_000 }).ToList();
        Assert.Equal(Enumerable.Range(0, 16).Select(i => (20_032L + (64 * i), 62 - (2 * i))), slide.Select(c => (c.Frame, c.Value)));
        var report = Assert.Single(Reports(player), report => report.Kind == EngineReportKind.Done);
        Assert.Equal((id, 20_032L, 0), (report.Id, report.Frame, report.Ordinal));
    }

    [Fact]
    public void Post_PartMute_SilencesThePartAndBringsItBack()
    {
        var synth = new RecordingSynth();
        var player = Player(Of([Units(16, 4, Brisk)]), synth);
        ReadTo(player, 20_032);
        player.Engine.Post(EngineCommand.PartMute(0, true));
        ReadTo(player, 30_016);
        Assert.Equal(0, synth.Calls.Last(call => call is { Kind: CallKind.Control, Key: 7 }).Value);

        player.Engine.Post(EngineCommand.PartMute(0, false));
        ReadTo(player, 40_000);

        Assert.Equal(64, synth.Calls.Last(call => call is { Kind: CallKind.Control, Key: 7 }).Value);
    }

    [Fact]
    public void Post_LevelsOfPartsThatShareAChannel_StrikeTheSofterOneMoreSoftly()
    {
        var band = new[] { BandPart("click", 9), BandPart("block", 9) };
        var bars = Bar(4, 4, Brisk, Note(Span.Of(2, 4), Span.Of(1, 4), velocity: 100), Note(Span.Of(3, 4), Span.Of(1, 4), 61, 1, 100));
        var synth = new RecordingSynth();
        var player = Player(Of([bars], band), synth);
        ReadTo(player, 12_800);

        player.Engine.Post(EngineCommand.PartLevel(1, -12));
        ReadAll(player);

        // 12 dB is a factor of 10^(-12/40) in velocity: 50.
        Assert.Equal([(60, 100), (61, 50)], synth.Ons.Select(on => (on.Key, on.Value)));
        Assert.DoesNotContain(synth.Calls, call => call is { Kind: CallKind.Control, Key: 7, Frame: > 12_800 });
    }

    [Fact]
    public void Post_Speed_MovesWhatComesFromTheBlockOn()
    {
        // Quarters at 120: one every 24000 frames. When the speed doubles, the rest takes half as long.
        var tempo = Tempo.Of(Span.Of(1, 4), 120);
        var synth = new RecordingSynth();
        var player = Player(Of([Units(8, 4, tempo)]), synth);
        var at = 9600 + 24_000 + 12_032;
        at -= at % 64;
        ReadTo(player, at);

        player.Engine.Post(EngineCommand.Speed(2));
        ReadAll(player);

        var left = 9600 + 48_000 - at;
        var third = at + (left / 2.0);
        var expected = new[] { 9600, 33_600, third, third + 12_000, third + 24_000, third + 36_000, third + 48_000, third + 60_000 };
        Assert.Equal(expected.Select(frame => (long)Math.Round(frame, MidpointRounding.AwayFromZero)), synth.Ons.Select(on => on.Frame));

        // The note that sounds during the change keeps its written length too.
        Assert.Equal(synth.Ons.Skip(1).Select(on => on.Frame), synth.Offs.Take(7).Select(off => off.Frame));
        AssertNothingHangs(synth);
    }

    [Fact]
    public void Post_ManySpeeds_LosesNothingAndStaysInTime()
    {
        Gen.Select(Gen.Int[1, 90], Gen.Int[50, 110], Gen.Int[51, 109]).Array[1, 60].Sample(
            changes =>
            {
                var synth = new RecordingSynth();
                var player = Player(Of(Enumerable.Range(0, 20).Select(_ => Units(7, 12, Brisk)).ToList()), synth);
                var place = 0.0;
                double frame = PreRoll;
                var speed = 1.0;
                var perFrame = Brisk.WholesPerMinute.ToDouble() / (60 * Rate);
                var expected = new List<double>();
                void Pass(double until)
                {
                    while (expected.Count < 140)
                    {
                        var onset = expected.Count / 12.0;
                        var at = frame + ((onset - place) / (perFrame * speed));
                        if (at > until)
                        {
                            break;
                        }

                        expected.Add(at);
                    }

                    if (until > frame && double.IsFinite(until))
                    {
                        place += (until - frame) * perFrame * speed;
                        frame = until;
                    }
                }

                foreach (var (blocks, above, below) in changes)
                {
                    var now = player.Engine.Playhead.Frame + (64 * blocks);
                    if (place > 10)
                    {
                        break;
                    }

                    ReadTo(player, now);
                    Pass(now);
                    player.Engine.Post(EngineCommand.Speed(new Rational(above, below)));
                    speed = (double)above / below;
                }

                ReadAll(player);
                Pass(double.PositiveInfinity);
                Assert.Equal(140, synth.Ons.Count());
                Assert.All(expected.Zip(synth.Ons), pair => Assert.InRange(pair.Second.Frame - pair.First, -0.75, 0.75));
                AssertNothingHangs(synth);
            },
            iter: 20,
            threads: 1);
    }

    [Fact]
    public void Post_MasterLevel_GoesThereInAStraightLine()
    {
        var synth = new RecordingSynth();
        var player = Player(Of([Bar(8, 4, Brisk, Note(Span.Zero, Span.Of(8, 4), key: 0))]), synth);
        ReadTo(player, 12_800);
        player.Engine.Post(EngineCommand.MasterLevel(-100));
        ReadTo(player, 12_800 + 1440);

        var after = new float[2 * 64];
        player.Read(after);

        Assert.All(after, sample => Assert.Equal(0, sample));
        Assert.NotEqual(0, synth.ActiveVoices);
    }

    [Fact]
    public void Post_Stop_FadesReleasesAndEnds()
    {
        var synth = new RecordingSynth();
        var player = Player(Of([Bar(4, 4, Brisk, Note(Span.Zero, Span.Of(4, 4)))], endless: true), synth);
        ReadTo(player, 16_000);

        player.Engine.Post(EngineCommand.Stop(0.5));
        var rest = ReadAll(player);

        Assert.Equal(24_000, rest.Length / 2);
        Assert.True(Math.Abs(rest[^2]) < 1e-4);
        AssertNothingHangs(synth);
        Assert.Equal(TransportState.Stopped, player.Engine.Playhead.State);
        Assert.Contains(Reports(player), report => report is { Kind: EngineReportKind.Stopped, Frame: 40_000 });
        Assert.Equal(64, synth.Calls.Count(call => call is { Kind: CallKind.Control, Key: 120 }));
    }

    [Fact]
    public void Read_AfterTheEndOfALiveStream_GoesOnInSilence()
    {
        var player = Player(Of([Units(2, 4, Brisk)]), new RecordingSynth(), new EngineOptions { EndsStream = false, TailSeconds = 0.1 });
        ReadTo(player, 100_000);

        var block = new float[512];
        Assert.Equal(512, player.Read(block));

        Assert.Equal(TransportState.Ended, player.Engine.Playhead.State);
        Assert.All(block, sample => Assert.Equal(0, sample));
    }

    [Fact]
    public void Playhead_AnyMoment_SaysBarAndPlace()
    {
        var player = Player(Of([Units(5, 8, Brisk), Units(7, 8, Brisk)]), new RecordingSynth());
        ReadTo(player, 9599);
        Assert.Equal(-1, player.Engine.Playhead.Ordinal);
        ReadTo(player, PreRoll + 48_000 + 14_400);

        var now = player.Engine.Playhead;
        var before = player.Engine.PlayheadAt(PreRoll + 9600);

        // An eighth at 300 lasts 9600 frames: one and a half eighths into bar 1.
        Assert.Equal((1, 1, Span.Of(3, 16)), (now.Ordinal, now.BarIndex, now.InBar));
        Assert.Equal(3.0 / 16, now.WholesInBar, 9);
        Assert.Equal(PreRoll + 48_000, now.BarLineFrame);
        Assert.Equal((0, 0, Span.Of(1, 8)), (before.Ordinal, before.BarIndex, before.InBar));
        Assert.Equal(Brisk, now.Tempo);
    }

    [Fact]
    public async Task Playhead_ReadWhileItIsWritten_IsNeverTorn()
    {
        var player = Player(Song(endless: true), new RecordingSynth { Records = false });
        var wrong = 0;
        var seen = 0;
        using var done = new CancellationTokenSource();
        var reader = Task.Run(
            () =>
            {
                while (!done.IsCancellationRequested || seen == 0)
                {
                    var now = player.Engine.Playhead;
                    if (now.Bar is not { } bar)
                    {
                        continue;
                    }

                    seen++;
                    var inside = now.WholesInBar;
                    var fits = now.Ordinal == bar.Index && inside > -0.01 && inside < bar.Length.Wholes.ToDouble() + 0.01;
                    wrong += fits ? 0 : 1;
                }
            },
            TestContext.Current.CancellationToken);
        ReadTo(player, 60 * Rate);
        await done.CancelAsync();
        await reader;

        Assert.Equal(0, wrong);
        Assert.True(seen > 0);
    }

    [Fact]
    public void Read_SynthThatFails_CostsABlockAndIsCounted()
    {
        var engine = new GrooveEngine(new FailingSynth(), new EngineOptions());
        new BarPreparer(engine, BarRoute.Whole(Song())).Fill();
        var block = new float[2 * 1024];
        Array.Fill(block, 1);

        Assert.Equal(block.Length, engine.Read(block));

        Assert.Equal(16, engine.Counters.Faults);
        Assert.IsType<InvalidOperationException>(engine.Fault);
        Assert.All(block, sample => Assert.Equal(0, sample));
    }

    internal static TestBars Song(bool endless = false, int key = 45)
    {
        var band = new[] { BandPart("one", 0), BandPart("two", 1, level: -3, pan: 20, technique: Technique.Bow), BandPart("click", 9) };
        var bars = new List<Bar>();
        for (var i = 0; i < 9; i++)
        {
            var units = 3 + (i * 5 % 7);
            var notes = Enumerable.Range(0, 2 * units)
                .Select(half => Note(
                    Span.Of(half, 16),
                    Span.Of(1 + (half % 3), 16),
                    key: key + half,
                    part: half % 3,
                    velocity: 40 + (3 * half),
                    offset: (half * 7919 % 61_000) - 30_000,
                    spread: half % 2 * 4000))
                .ToList();
            notes.Add(Note(Span.Zero, Span.Of(units, 4), key: key - 10, part: 1));
            var tempi = new[] { (Span.Zero, Tempo.Of(Span.Of(1, 8), 280 + i)), (Span.Of(1, 8), Tempo.Of(Span.Of(1, 8), 300 - (11 * i))) };
            bars.Add(Bar(units, 8, tempi, notes) with
            {
                Controls = [new ControlPoint(1, Span.Zero, 11, 90, -500), new ControlPoint(1, Span.Of(1, 8), 11, 120, 2000)],
                Felt = FeltLevel.Group,
            });
        }

        return Of(bars, band, endless: endless);
    }

    private sealed class FailingSynth : ISoundFontSynth
    {
        public int SampleRate => Rate;

        public int ChannelCount => 16;

        public int ActiveVoices => 0;

        public void NoteOn(int channel, int key, int velocity)
        {
        }

        public void NoteOff(int channel, int key)
        {
        }

        public void Control(int channel, int controller, int value)
        {
        }

        public void Program(int channel, int program)
        {
        }

        public void PitchWheel(int channel, int value)
        {
        }

        public void ChannelPressure(int channel, int value)
        {
        }

        public void KeyPressure(int channel, int key, int value)
        {
        }

        public void Render(Span<float> left, Span<float> right) => throw new InvalidOperationException("broken on purpose");
    }
}
