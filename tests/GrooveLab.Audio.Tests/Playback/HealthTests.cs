using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.Devices;
using GrooveLab.Audio.Tests.SoundFonts;
using GrooveLab.Audio.Tests.Synthesis;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using NAudio.Wave;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>Triggers every counter with a real fault and checks its words.</summary>
public sealed class HealthTests
{
    private readonly FailureLog _failures = new();

    [Fact]
    public void Health_AllIsWell_SaysNothing()
    {
        var player = Player(EngineContractTests.Song(), new RecordingSynth(), limited: true);
        ReadAll(player);

        Assert.True(player.Health.IsGood);
        Assert.Equal(string.Empty, player.Health.Line(80));
        Assert.Equal("no problems", player.Health.ToString());
        Assert.True(Health.Good.IsGood);
    }

    [Fact]
    public void Health_ComposerThatThrows_TellsTheRepeatedBarsAndWhy()
    {
        var (engine, bars) = Live(new Broken(Song(4)), new RecordingSynth());
        Drive(engine, bars);

        Assert.Equal(
            ["1 bar could not be composed; the bar before was repeated", $"composing a bar: no such chord ({bars.Failures.Total} times)"],
            WordsOf(engine, bars));
        Assert.Equal("1 bar repeated, composing a bar failed", StateOf(engine, bars).Line(60));
    }

    [Fact]
    public void Health_BarThatDoesNotCome_TellsTheLateBarAndWhatWasLeftOut()
    {
        var (engine, bars) = Live(Song(4), new RecordingSynth());
        bars.PrepareNext();
        var block = new float[2 * 480];
        while (engine.Playhead.Frame < 9600 + 60_000)
        {
            engine.Read(block);
        }

        Drive(engine, bars);

        Assert.Equal(["1 bar came too late", "2 notes were left out: too late, or too many at the same time"], WordsOf(engine, bars));
    }

    [Fact]
    public void Health_BarWithTooManyNotes_TellsHowManyWereLeftOut()
    {
        var notes = Enumerable.Range(0, 5000).Select(i => Note(Span.Of(i, 8192), Span.Of(1, 8192), key: 20 + (i % 90))).ToList();
        var player = Player(Of([Bar(5, 4, Brisk, notes)]), new RecordingSynth());
        ReadAll(player);

        var entry = Assert.Single(player.Health.Entries);
        Assert.Equal((HealthKind.NotesBeyondRoom, 904), (entry.Kind, entry.Count));
        Assert.Equal("904 notes were left out: a bar holds 4096", entry.Words);
    }

    [Fact]
    public void Health_NoteThatNoKeyboardHas_TellsIt()
    {
        var player = Player(Of([Bar(1, 4, Brisk, Note(Span.Zero, Span.Of(1, 4), key: 128), Note(Span.Zero, Span.Of(1, 4)))]), new RecordingSynth());
        ReadAll(player);

        Assert.Equal("1 note was left out: no such key or channel", Assert.Single(player.Health.Entries).Words);
    }

    [Fact]
    public void Health_SynthThatThrows_TellsTheSilentBlocksAndWhy()
    {
        CollectingSink? sink = null;
        using var session = new LiveSession(
            Song(4), new Throwing(), source => new BlockingOutput(sink = new CollectingSink(), source, raisePriority: false),
            new LiveOptions { Failures = _failures });
        sink!.HasRoom = () => session.Bars.BarsAhead > 0;
        session.Start();
        SpinWait.SpinUntil(() => session.Engine.Playhead.Frame > 4800);
        session.Dispose();

        var faults = session.Engine.Counters.Faults;
        Assert.Equal($"the engine failed, so {faults} blocks of 64 frames were silent", session.Health.Entries[0].Words);
        Assert.Equal($"playing: broken on purpose ({faults} times)", session.Health.Entries[1].Words);
    }

    [Fact]
    public void Health_ReportsThatNobodyTakes_TellsThatTheLogIsIncomplete()
    {
        var (engine, bars) = Live(Song(4), new RecordingSynth());
        bars.Fill();
        var block = new float[2 * 64];
        for (var i = 0; i < 1100; i++)
        {
            Assert.NotEqual(0, engine.Post(EngineCommand.MasterLevel(-i)));
            engine.Read(block);
        }

        var lost = engine.Counters.LostReports;
        Assert.InRange(lost, 76, 200);
        Assert.Contains($"{lost} reports were lost, so the log of changes is incomplete", WordsOf(engine, bars));
    }

    [Fact]
    public void Post_RingThatIsFull_IsNotTakenAndSaysSo()
    {
        var engine = new GrooveEngine(new RecordingSynth(), new EngineOptions());
        var taken = 0;
        while (engine.Post(EngineCommand.MasterLevel(-taken)) != 0)
        {
            taken++;
        }

        Assert.Equal(1024, taken);
        engine.Read(new float[2 * 64]);
        Assert.NotEqual(0, engine.Post(EngineCommand.MasterLevel(0)));
    }

    [Fact]
    public async Task StopAsync_WhileTheRingOfCommandsIsFull_StopsAllTheSame()
    {
        CollectingSink? sink = null;
        using var session = new LiveSession(
            EngineContractTests.Song(endless: true), new RecordingSynth(),
            source => new BlockingOutput(sink = new CollectingSink(), source, raisePriority: false))
        {
            StopPatience = Timeout.InfiniteTimeSpan,
        };
        using var gate = new ManualResetEventSlim(true);
        sink!.HasRoom = () => gate.IsSet && session.Bars.BarsAhead > 0;
        session.Start();
        SpinWait.SpinUntil(() => session.Engine.Playhead.Ordinal >= 0);
        gate.Reset();
        while (session.Engine.Post(EngineCommand.MasterLevel(0)) != 0)
        {
            // Until the ring is full.
        }

        var stopping = session.StopAsync(0);
        gate.Set();
        await stopping;

        Assert.Equal(TransportState.Stopped, session.Engine.Playhead.State);
    }

    [Fact]
    public void Health_MoreVoicesThanThereAre_TellsNotesCutShort()
    {
        var synth = new SoundFontSynth(TestBanks.Constant(), Rate, new SoundFontSynthOptions { Dry = true, MaxVoices = 4 });
        var notes = Enumerable.Range(0, 6).Select(i => Note(Span.Of(i, 32), Span.Of(2, 1), key: 60 + i)).ToList();
        var player = new OfflinePlayer(BarRoute.Whole(Of([Bar(4, 4, Brisk, notes)])), synth, new EngineOptions { MasterDecibels = -40 });
        player.Read(new float[2 * 60_000]);

        Assert.Equal(2, player.Health.Numbers.StolenVoices);
        Assert.Equal("2 notes were cut short: too many sounded at the same time; fewer parts or a simpler bank help", Assert.Single(player.Health.Entries, entry => entry.Kind == HealthKind.CutNotes).Words);
    }

    [Fact]
    public void Health_VoicesTakenThatNobodyHeard_SaysNothing()
    {
        var synth = new SoundFontSynth(TestBanks.Constant((NAudio.SoundFont.GeneratorEnum.InitialAttenuation, 700)), Rate, new SoundFontSynthOptions { Dry = true, MaxVoices = 4 });
        var notes = Enumerable.Range(0, 6).Select(i => Note(Span.Of(i, 32), Span.Of(2, 1), key: 60 + i, velocity: 1)).ToList();
        var player = new OfflinePlayer(BarRoute.Whole(Of([Bar(4, 4, Brisk, notes)])), synth, new EngineOptions());
        player.Read(new float[2 * 60_000]);

        Assert.Equal((2, 0), (player.Health.Numbers.StolenVoices, player.Health.Numbers.CutNotes));
        Assert.DoesNotContain(player.Health.Entries, entry => entry.Kind == HealthKind.CutNotes);
    }

    [Fact]
    public void Health_SoundThatIsNotReady_TellsThatTheOneBeforePlays()
    {
        var synth = new SoundFontSynth(TestBanks.Load(TestBanks.VariedFile()), Rate, new SoundFontSynthOptions { Dry = true });
        synth.WarmUp();
        var player = new OfflinePlayer(
            BarRoute.Whole(Of([Units(2, 4, Brisk)], [BandPart("one", 0, program: 40)])), synth, new EngineOptions { MasterDecibels = -40 });
        player.Read(new float[2 * 60_000]);

        Assert.Equal("1 sound was not loaded in time; the old sound continues", Assert.Single(player.Health.Entries).Words);
    }

    [Fact]
    public void Health_SoundThatTheBankLacks_SaysNothing()
    {
        var synth = new SoundFontSynth(TestBanks.Constant(), Rate, new SoundFontSynthOptions { Dry = true });
        var player = new OfflinePlayer(
            BarRoute.Whole(Of([Units(2, 4, Brisk)], [BandPart("one", 0, program: 77)])), synth, new EngineOptions { MasterDecibels = -40 });
        player.Read(new float[2 * 60_000]);

        Assert.Equal(1, player.Health.Numbers.SubstitutedPrograms);
        Assert.True(player.Health.IsGood);
    }

    [Fact]
    public void Health_ChannelThatTheSynthLacks_TellsIgnoredMessages()
    {
        var synth = new SoundFontSynth(TestBanks.Constant(), Rate, new SoundFontSynthOptions { Dry = true, ChannelCount = 1 });
        synth.NoteOn(3, 60, 100);

        var health = Health.OfMessages(synth, new Limiter(Rate));

        Assert.Equal("1 message was ignored: no such channel, key or controller", Assert.Single(health.Entries).Words);
    }

    [Fact]
    public void Health_SamplesThatAreNoNumbers_TellsThem()
    {
        var limiter = new Limiter(Rate);
        float[] left = [float.NaN, 0, 0];
        float[] right = [float.PositiveInfinity, 0, 0];
        limiter.Process(left, right);

        var health = Health.OfMessages(new RecordingSynth(), limiter);

        Assert.Equal("2 samples were invalid and were silenced", Assert.Single(health.Entries).Words);
    }

    [Theory]
    [InlineData(1.35, false)]
    [InlineData(2, true)]
    public void Health_LimiterAtWork_IsToldOnceItIsHeard(double loud, bool told)
    {
        // 1.35 is 2.6 dB over full scale and nearly 4 dB over the ceiling; 2 is 6 and more than 7.
        var synth = new Loud((float)loud);
        var player = new OfflinePlayer(BarRoute.Whole(Song(1)), synth, new EngineOptions { MasterDecibels = -12 });
        player.Read(new float[2 * Rate]);

        Assert.True(player.Health.Numbers.LimitedFrames > Rate / 2);
        Assert.Equal(told, !player.Health.IsGood);
        if (told)
        {
            Assert.Equal(
                "too loud: the limiter reduced the sound by more than 4 dB for 1.0 s; lower the level", Assert.Single(player.Health.Entries).Words);
        }
    }

    [Fact]
    public void Health_DeviceThatFails_TellsWhyAndHowOften()
    {
        var time = new ManualTime();
        FakeDevice? device = null;
        AudioDeviceException? refusal = null;
        LiveSession? session = null;
        session = new LiveSession(
            Song(4),
            new RecordingSynth(),
            source => new ResilientOutput(
                source,
                _ => refusal is null ? device = new FakeDevice(AudioOutputState.Playing) : throw refusal,
                (_, _) => new FakeDevice(AudioOutputState.Silent),
                startWithoutDevice: true,
                time,
                _failures),
            new LiveOptions { Failures = _failures });
        session.Start();
        device!.Gaps = 3;
        Assert.Equal("3 gaps in the sound; a larger --buffer helps on a busy machine", session.Health.ToString());

        device.State = AudioOutputState.Lost;
        device.Failure = new AudioDeviceException(AudioDeviceErrorKind.Lost, "The sound device \"usb\" was lost: No such device.");
        refusal = new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "Sound device \"usb\" not found.");
        time.Advance(TimeSpan.FromSeconds(1));
        Assert.Equal(
            "no sound device: playing in silence and trying again (The sound device \"usb\" was lost: No such device)",
            session.Health.Entries[0].Words);
        time.Advance(TimeSpan.FromSeconds(2));
        Assert.Equal(
            [
                "no sound device: playing in silence and trying again (Sound device \"usb\" not found)",
                "3 gaps in the sound; a larger --buffer helps on a busy machine",
                "the sound device was lost once (The sound device \"usb\" was lost: No such device)",
            ],
            session.Health.Entries.Select(entry => entry.Words));
        Assert.Equal("no sound device, 3 gaps, device lost once", session.Health.Line(60));
        Assert.Equal("no sound device, 3 gaps +1", session.Health.Line(30));
        Assert.Equal("no sound device +2", session.Health.Line(20));

        refusal = null;
        time.Advance(TimeSpan.FromSeconds(2));
        Assert.Equal([HealthKind.Gaps, HealthKind.DeviceLosses], session.Health.Entries.Select(entry => entry.Kind));

        device.State = AudioOutputState.Lost;
        refusal = new AudioDeviceException(AudioDeviceErrorKind.Unsupported, "It does not play stereo.");
        time.Advance(TimeSpan.FromSeconds(3));
        Assert.Equal("no sound device: playing in silence (It does not play stereo)", session.Health.Entries[0].Words);
        session.Dispose();
        Assert.Equal("no sound device: played in silence (It does not play stereo)", session.Health.Entries[0].Words);
    }

    [Fact]
    public void Health_OutputWhoseSourceThrows_TellsThatPlayingStopped()
    {
        var device = new FakeDevice(AudioOutputState.Playing);
        using var session = new LiveSession(Song(4), new RecordingSynth(), _ => device);
        session.Start();
        device.State = AudioOutputState.Faulted;
        device.Failure = new InvalidDataException("against the contract");

        Assert.Equal("playing stopped: against the contract", session.Health.Entries[0].Words);
    }

    [Fact]
    public void Health_NothingNew_IsTheSameInstance()
    {
        var device = new FakeDevice(AudioOutputState.Playing);
        using var session = new LiveSession(Song(4), new RecordingSynth(), _ => device, new LiveOptions { Failures = _failures });

        var before = session.Health;
        Assert.Same(before, session.Health);
        _failures.Add("writing notes.toml", "disk full");
        Assert.NotSame(before, session.Health);
        Assert.Equal("writing notes.toml: disk full", session.Health.ToString());
    }

    private static TestBars Song(int bars) => Of([.. Enumerable.Range(0, bars).Select(i => Units(5, 8, Brisk, key: 60 + i))]);

    private static (GrooveEngine Engine, BarPreparer Bars) Live(IBarSource source, ISoundFontSynth synth)
    {
        var engine = new GrooveEngine(synth, new EngineOptions());
        return (engine, new BarPreparer(engine, BarRoute.Whole(source)) { RepeatsOnFailure = true });
    }

    private static void Drive(GrooveEngine engine, BarPreparer bars)
    {
        var block = new float[2 * 480];
        do
        {
            bars.Fill();
        }
        while (engine.Read(block) == block.Length);
    }

    private static Health StateOf(GrooveEngine engine, BarPreparer bars) =>
        Health.Of(engine, bars, new RecordingSynth(), limiter: null, output: null, bars.Failures, before: null);

    private static IEnumerable<string> WordsOf(GrooveEngine engine, BarPreparer bars) => StateOf(engine, bars).Entries.Select(entry => entry.Words);

    private sealed class Broken(IBarSource source) : IBarSource
    {
        public int First => source.First;

        public int? End => source.End;

        public IReadOnlyList<PartChannels> Band => source.Band;

        public PieceHeading Heading => source.Heading;

        public Bar BarAt(int index) => index == 2 ? throw new InvalidOperationException("no such chord") : source.BarAt(index);
    }

    private sealed class FakeDevice(AudioOutputState running) : IAudioOutput
    {
        public long Gaps { get; set; }

        public string DeviceName => "fake";

        public int SampleRate => Rate;

        public int BufferFrames => 1920;

        public AudioOutputState State { get; set; } = AudioOutputState.Ready;

        public OutputClock Clock => default;

        public bool HasRealTimePriority => false;

        public long Underruns => Gaps;

        public Exception? Failure { get; set; }

        public Task Completion => Task.CompletedTask;

        public TimeSpan AverageLatency => TimeSpan.Zero;

        public TimeSpan CurrentLatency => TimeSpan.Zero;

        public void Start() => State = running;

        public void Stop() => State = State is AudioOutputState.Lost or AudioOutputState.Faulted ? State : AudioOutputState.Stopped;

        public void Dispose() => Stop();
    }

    private class Silent : ISoundFontSynth
    {
        public int SampleRate => Rate;

        public int ChannelCount => 64;

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

        public virtual void Render(Span<float> left, Span<float> right)
        {
            left.Clear();
            right.Clear();
        }
    }

    private sealed class Throwing : Silent
    {
        public override void Render(Span<float> left, Span<float> right) => throw new InvalidOperationException("broken on purpose");
    }

    private sealed class Loud(float level) : Silent
    {
        public override void Render(Span<float> left, Span<float> right)
        {
            left.Fill(level);
            right.Fill(level);
        }
    }

}
