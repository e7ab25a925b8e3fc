using System.Diagnostics;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback.Engine;
using Xunit;

namespace GrooveLab.Audio.Tests.LiveMidi;

/// <summary>The sender in virtual time: its turns are called with the times of a test.</summary>
public sealed class MidiSenderTests : IDisposable
{
    private const int Rate = 48_000;
    private readonly FakePort _port = new();
    private readonly FailureLog _failures = new();
    private readonly MidiTap _tap = new();
    private readonly TaskCompletionSource _over = new();
    private readonly MidiSender _sender;
    private IMidiOut? _back;
    private OutputClock _clock;

    public MidiSenderTests()
    {
        _sender = new MidiSender("Pier", _port, () => _back ?? throw new MidiPortException("not there", isMissing: true), _failures, runs: false);
        _sender.Attach(_tap, () => _clock, _over.Task, Rate);
    }

    private static long At(double seconds) => (long)(seconds * Stopwatch.Frequency);

    public void Dispose() => _sender.Dispose();

    // Frame 0 is heard at 10 s.
    private void Hear(double seconds) => _clock = new OutputClock(480 + (long)((seconds - 10) * Rate), 480, At(seconds));

    private void Strike(long frame, int key)
    {
        _tap.Frame = frame;
        _tap.Message(0x90, 0, key, 100);
    }

    [Fact]
    public void Turn_NoteOfAFrame_IsSentWhenTheFrameIsHeardAndNotBefore()
    {
        Strike(4800, 60);
        Hear(10);

        var wait = _sender.Turn(At(10));
        Assert.Empty(_port.Bytes);
        Assert.Equal(0.002, wait, 1e-9);

        Assert.Equal(0.001, _sender.Turn(At(10.099)), 1e-4);
        Assert.Empty(_port.Bytes);

        _sender.Turn(At(10.1));
        Assert.Equal([0x90, 60, 100], _port.Bytes);
    }

    [Fact]
    public void Turn_PerformanceStoppedWithoutAnEnd_ReleasesAndLeavesOutWhatWasNotHeard()
    {
        Strike(0, 60);
        Strike(48_000, 64);
        Hear(10);
        _sender.Turn(At(10));
        _port.Take();

        _over.SetResult();
        _sender.Turn(At(10.01));

        Assert.Equal([0x80, 60, 64, 0xB0, 64, 0, 0xB0, 123, 0], _port.Bytes);
    }

    [Fact]
    public void Turn_PortGoesAwayAndComesBack_SaysSoAndTriesOnceASecond()
    {
        Strike(0, 60);
        Hear(10);
        _sender.Turn(At(10));
        Assert.Equal("MIDI to Pier", _sender.Says);
        _port.IsGone = true;
        Strike(480, 64);
        _sender.Turn(At(10.01));

        Assert.Equal("MIDI to Pier: the port is gone", _sender.Says);
        Assert.Contains("it is used again when it comes back", Assert.Single(_failures.All).Message, StringComparison.Ordinal);

        var back = new FakePort();
        _back = back;
        _sender.Turn(At(11.2));
        Assert.Equal("MIDI to Pier", _sender.Says);
        Assert.True(Assert.Single(_failures.All).IsOver);
        Assert.Equal([0x80, 60, 64], back.Bytes.Take(3));
    }

    [Fact]
    public void Dispose_WhileANoteSounds_EndsItAndClosesThePort()
    {
        Strike(0, 60);
        Hear(10);
        _sender.Turn(At(10));
        _port.Take();

        _sender.Dispose();

        Assert.Equal([0x80, 60, 64, 0xB0, 64, 0, 0xB0, 123, 0], _port.Bytes);
        Assert.True(_port.IsClosed);
    }
}
