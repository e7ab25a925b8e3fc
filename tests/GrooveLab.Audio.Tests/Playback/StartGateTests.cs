using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class StartGateTests
{
    [Fact]
    public void Read_ClosedThenOpened_IsSilentThenPlaysFromTheBeginning()
    {
        var gate = new StartGate(new Counting());
        var buffer = new float[8];
        Assert.Equal(8, gate.Read(buffer));
        Assert.All(buffer, sample => Assert.Equal(0, sample));
        Assert.Equal(4, gate.Held);

        gate.Open();
        gate.Read(buffer);
        Assert.Equal([1, 2, 3, 4, 5, 6, 7, 8], buffer);
        Assert.Equal(4, gate.Held);
    }

    [Fact]
    public void Skip_BeforeItOpens_IsLeftOut()
    {
        var gate = new StartGate(new Counting());
        gate.Skip(new float[4]);
        gate.Open();
        var buffer = new float[2];
        gate.Read(buffer);
        Assert.Equal([5, 6], buffer);
        Assert.Equal(2, gate.Skipped);
    }

    [Fact]
    public void BeginAt_SessionThatWaits_PlaysFromThatFrameAndCountsTheEnginesFrames()
    {
        ISampleProvider? read = null;
        using var session = new LiveSession(
            EngineContractTests.Song(),
            new RecordingSynth(),
            source => new BlockingOutput(new CollectingSink(), read = source, raisePriority: false),
            new LiveOptions { WaitsToBegin = true });
        Assert.True(session.IsWaiting);
        var block = new float[2 * 480];
        read!.Read(block);
        Assert.Equal(0, session.Engine.Playhead.Frame);

        session.BeginAt(9600);
        read.Read(block);

        Assert.False(session.IsWaiting);

        // The limiter reads some milliseconds ahead.
        Assert.InRange(session.Engine.Playhead.Frame, 9600 + 480, 9600 + 480 + 480);

        // 480 frames of silence came first.
        Assert.Equal(480 - 9600, session.FramesBefore);
        Assert.Equal(TransportState.Playing, session.Engine.Playhead.State);
    }

    private sealed class Counting : ISampleProvider
    {
        private float _next;

        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(48_000, 2);

        public int Read(Span<float> buffer)
        {
            for (var i = 0; i < buffer.Length; i++)
            {
                buffer[i] = ++_next;
            }

            return buffer.Length;
        }
    }
}
