using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Time;
using NAudio.Wave;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class LiveSessionTests
{
    [Fact]
    public async Task Start_SourceWithAnEnd_SoundsAsOfflineAndEndsByItself()
    {
        var offline = ReadAll(Player(
            EngineContractTests.Song(), new RecordingSynth(), new EngineOptions { MasterDecibels = Renderer.DefaultMasterDecibels }, limited: true));
        CollectingSink? sink = null;
        using var session = new LiveSession(
            EngineContractTests.Song(), new RecordingSynth(), source => Open(source, out sink), new LiveOptions { StartDecibels = 0 });
        sink!.HasRoom = () => session.Bars.BarsAhead > 0;

        session.Start();
        await session.Completion;

        Assert.Equal(AudioOutputState.Ended, session.Output.State);
        var fadeIn = 2 * (int)(1.5 * Rate);
        Assert.Equal(offline[fadeIn..], sink.Samples[fadeIn..offline.Length]);
        Assert.All(sink.Samples[offline.Length..], sample => Assert.Equal(0, sample));
        Assert.Empty(session.Health.Entries);
        Assert.Equal(EngineReportKind.Ended, Assert.Single(session.Log).Kind);
    }

    // Never started, so that no composer thread takes the report first.
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Log_ReportThatNoThreadHasTakenYet_HasIt(bool asNews)
    {
        ISampleProvider? source = null;
        using var session = new LiveSession(
            EngineContractTests.Song(), new RecordingSynth(), read => new BlockingOutput(new CollectingSink(), source = read, raisePriority: false));
        var block = new float[2 * 480];
        do
        {
            session.Bars.Fill();
        }
        while (source!.Read(block) > 0);

        var log = asNews ? session.LogFrom(0) : session.Log;

        Assert.Equal(EngineReportKind.Ended, Assert.Single(log).Kind);
    }

    [Fact]
    public async Task StopAsync_WhileChangesAreMade_FadesAndLeavesNothingHanging()
    {
        var synth = new RecordingSynth();
        CollectingSink? sink = null;
        using var session = new LiveSession(EngineContractTests.Song(endless: true), synth, source => Open(source, out sink)) { StopPatience = Timeout.InfiniteTimeSpan };
        using var gate = new ManualResetEventSlim(true);
        sink!.HasRoom = () => gate.IsSet && session.Bars.BarsAhead > 0;
        session.Start();
        await Until(() => session.Engine.Playhead.Ordinal >= 1);
        session.Engine.Post(EngineCommand.Speed(new Rational(11, 10)));

        // A device without a clock may pass the bar line before the new bars are composed: it waits for them.
        gate.Reset();
        var change = session.Replace(EngineContractTests.Song(endless: true, key: 40));
        await Until(() => change.State != BarChangeState.Asked);
        gate.Set();
        await Until(() => change.State == BarChangeState.Settled && session.Engine.Playhead.Ordinal > change.Ordinal);

        await session.StopAsync(0.1);

        Assert.Equal(TransportState.Stopped, session.Engine.Playhead.State);
        AssertNothingHangs(synth);
        session.Dispose();
        Assert.Equal(
            [EngineReportKind.Done, EngineReportKind.ReplaceAccepted, EngineReportKind.ReplaceBegun, EngineReportKind.Done, EngineReportKind.Stopped],
            session.Log.Select(report => report.Kind));
        Assert.Empty(session.Health.Entries);
    }

    [Fact]
    public async Task StopAsync_OnAThreadWithALoopOfItsOwn_DoesNotNeedThatLoop()
    {
        CollectingSink? sink = null;
        using var session = new LiveSession(EngineContractTests.Song(endless: true), new RecordingSynth(), source => Open(source, out sink)) { StopPatience = Timeout.InfiniteTimeSpan };
        sink!.HasRoom = () => session.Bars.BarsAhead > 0;
        session.Start();
        await Until(() => session.Engine.Playhead.Ordinal >= 1);
        var loop = new LoopContext();
        var before = SynchronizationContext.Current;
        SynchronizationContext.SetSynchronizationContext(loop);
        Task stopping;
        try
        {
            stopping = session.StopAsync(0.1);
        }
        finally
        {
            SynchronizationContext.SetSynchronizationContext(before);
        }

        await stopping;

        Assert.Equal(0, loop.Posted);
    }

    [Fact]
    public void Constructor_OutputThatCannotOpen_Throws()
    {
        var error = Assert.Throws<AudioDeviceException>(() => new LiveSession(
            EngineContractTests.Song(),
            new RecordingSynth(),
            _ => throw new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "No output device found.")));

        Assert.Equal(AudioDeviceErrorKind.NoDevice, error.Kind);
    }

    [Fact]
    public async Task Heard_WhilePlaying_LiesBehindWhatIsComputed()
    {
        CollectingSink? sink = null;
        using var session = new LiveSession(EngineContractTests.Song(), new RecordingSynth(), source => Open(source, out sink));
        Assert.Equal(-1, session.Heard.Ordinal);
        sink!.HasRoom = () => session.Bars.BarsAhead > 0;
        session.Start();
        await Until(() => session.Engine.Playhead.Ordinal >= 2);

        var heard = session.Heard;

        Assert.InRange(heard.Frame, 0, session.Engine.Playhead.Frame);
        await session.StopAsync(0);
    }

    /// <summary>The loop of a screen's thread: it runs what is posted, and counts it.</summary>
    private sealed class LoopContext : SynchronizationContext
    {
        public int Posted { get; private set; }

        public override void Post(SendOrPostCallback d, object? state)
        {
            Posted++;
            base.Post(d, state);
        }
    }

    private static IAudioOutput Open(ISampleProvider source, out CollectingSink sink)
    {
        sink = new CollectingSink();
        return new BlockingOutput(sink, source, raisePriority: false);
    }

    private static async Task Until(Func<bool> condition)
    {
        while (!condition())
        {
            TestContext.Current.CancellationToken.ThrowIfCancellationRequested();
            await Task.Yield();
        }
    }
}
