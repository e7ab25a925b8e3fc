using GrooveLab.Audio.Devices;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class ResilientOutputTests
{
    private const int Rate = 48000;

    private readonly ManualTime _time = new();
    private readonly List<FakeOutput> _opened = [];
    private AudioDeviceException? _refusal;
    private int _attempts;

    [Fact]
    public void Start_Device_Plays()
    {
        using var output = Open();
        output.Start();

        Assert.Equal(AudioOutputState.Playing, output.State);
        Assert.Null(output.Failure);
        Assert.Equal("device 1", output.DeviceName);
    }

    [Fact]
    public void Supervise_DeviceLost_SilenceGoesOnWhereTheDeviceWas()
    {
        using var output = Open();
        output.Start();
        _time.Advance(TimeSpan.FromSeconds(3));
        var device = _opened[0];
        device.Report(pulled: 144000, delay: 1920, _time.GetTimestamp());
        _time.Advance(TimeSpan.FromMilliseconds(10));
        device.Lose();

        // Already silent before the supervisor checks, and not reported as playing.
        Assert.Equal(AudioOutputState.Silent, output.State);
        _time.Advance(TimeSpan.FromMilliseconds(10));
        output.Supervise();

        var silence = _opened[1];
        Assert.True(device.IsDisposed);
        Assert.True(silence.IsRunning);
        Assert.Equal(AudioOutputState.Silent, output.State);
        Assert.Equal(AudioDeviceErrorKind.Lost, Assert.IsType<AudioDeviceException>(output.Failure).Kind);

        // 1920 frames were pulled but not heard; 20 ms, 960 frames, have passed since.
        Assert.Equal(960, silence.HeadStart);
        Assert.Equal(1, output.Losses);
        Assert.Equal(144000, output.Clock.FramesPulled);
        silence.Report(pulled: 480, delay: 480, _time.GetTimestamp());
        Assert.Equal(144480, output.Clock.FramesPulled);
    }

    [Fact]
    public void Supervise_DeviceComesBack_IsTakenUpAgainAndOnlyOnePulls()
    {
        using var output = Open();
        output.Start();
        _opened[0].Report(4800, 1920, _time.GetTimestamp());
        _opened[0].Lose();
        _refusal = new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "not there");
        _time.Advance(TimeSpan.FromMilliseconds(100));
        Assert.Equal(1, _attempts);

        _time.Advance(TimeSpan.FromSeconds(3.2));
        Assert.Equal(AudioOutputState.Silent, output.State);
        Assert.InRange(_attempts, 2, 3);
        Assert.Equal("not there", output.Failure?.Message);
        Assert.Equal(0, output.Retakes);

        _opened[1].Report(9600, 480, _time.GetTimestamp());
        _refusal = null;
        _time.Advance(TimeSpan.FromSeconds(2));
        Assert.Equal(AudioOutputState.Playing, output.State);
        Assert.Equal(1, output.Retakes);
        Assert.Null(output.Failure);
        Assert.Equal(3, _opened.Count);
        Assert.Equal(4800 + 9600, output.Clock.FramesPulled);
        Assert.Equal(1, _opened.Count(one => one.IsRunning));
        Assert.True(_opened[1].IsDisposed);
    }

    [Fact]
    public void Supervise_LostAgainAndAgain_CountsEveryFrameOnce()
    {
        using var output = Open();
        output.Start();
        long expected = 0;
        for (var i = 1; i <= 5; i++)
        {
            _opened[^1].Report(1000 * i, 0, _time.GetTimestamp());
            expected += 1000 * i;
            _opened[^1].Lose();
            _time.Advance(TimeSpan.FromMilliseconds(60));
            _opened[^1].Report(77, 0, _time.GetTimestamp());
            expected += 77;
            _time.Advance(TimeSpan.FromSeconds(1.6));
            Assert.Equal(expected, output.Clock.FramesPulled);
            Assert.Equal(i, output.Retakes);
        }
    }

    [Fact]
    public void Supervise_RetryThatCannotHelp_IsNotRepeated()
    {
        using var output = Open();
        output.Start();
        _opened[0].Lose();
        _time.Advance(TimeSpan.FromMilliseconds(60));
        _refusal = new AudioDeviceException(AudioDeviceErrorKind.Unsupported, "no such rate");
        _time.Advance(TimeSpan.FromSeconds(20));

        Assert.Equal(2, _attempts);
        Assert.Equal(AudioOutputState.Silent, output.State);
    }

    [Fact]
    public void Open_NoDevice_ThrowsUnlessSilenceWillDo()
    {
        _refusal = new AudioDeviceException(AudioDeviceErrorKind.NoDevice, "none");
        Assert.Throws<AudioDeviceException>(() => Open());

        using var output = Open(startWithoutDevice: true);
        Assert.Same(_refusal, output.Failure);
        output.Start();
        Assert.Equal(AudioOutputState.Silent, output.State);
        _refusal = null;
        _time.Advance(TimeSpan.FromSeconds(2));
        Assert.Equal(AudioOutputState.Playing, output.State);
    }

    [Fact]
    public void Supervise_SourceEnds_IsOverAndNothingIsOpenedAgain()
    {
        using var output = Open();
        output.Start();
        _opened[0].Finish(AudioOutputState.Ended);
        _time.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal(AudioOutputState.Ended, output.State);
        Assert.True(output.Completion.IsCompleted);
        Assert.Equal(1, _attempts);
    }

    [Fact]
    public void Supervise_SourceThrows_IsNotTakenForALostDevice()
    {
        using var output = Open();
        output.Start();
        _opened[0].Fail(new InvalidDataException("bug"));
        _time.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal(AudioOutputState.Faulted, output.State);
        Assert.IsType<InvalidDataException>(output.Failure);
        Assert.Equal(1, _attempts);
    }

    [Fact]
    public void Stop_WhileSilent_EndsAllAndLeavesNothingOpen()
    {
        using var output = Open();
        output.Start();
        _opened[0].Lose();
        _time.Advance(TimeSpan.FromMilliseconds(60));
        output.Stop();
        _time.Advance(TimeSpan.FromSeconds(10));

        Assert.Equal(AudioOutputState.Stopped, output.State);
        Assert.True(output.Completion.IsCompleted);
        Assert.All(_opened, one => Assert.True(one.IsDisposed));
        Assert.Throws<InvalidOperationException>(output.Start);
    }

    private ResilientOutput Open(bool startWithoutDevice = false) => new(
        new CountingSource(long.MaxValue),
        source =>
        {
            _attempts++;
            return _refusal is null ? Add(new FakeOutput($"device {_attempts}", AudioOutputState.Playing, 0, source, this)) : throw _refusal;
        },
        (source, headStart) => Add(new FakeOutput("silence", AudioOutputState.Silent, headStart, source, this)),
        startWithoutDevice,
        _time);

    private FakeOutput Add(FakeOutput output)
    {
        _opened.Add(output);
        return output;
    }

    private sealed class FakeOutput(
        string name, AudioOutputState running, long headStart, ISampleProvider source, ResilientOutputTests test) : IAudioOutput
    {
        public long HeadStart => headStart;

        public bool IsDisposed { get; private set; }

        public bool IsRunning => State == running;

        public string DeviceName => name;

        public int SampleRate => Rate;

        public int BufferFrames => 1920;

        public AudioOutputState State { get; private set; } = AudioOutputState.Ready;

        public OutputClock Clock { get; private set; }

        public bool HasRealTimePriority => false;

        public long Underruns => 0;

        public Exception? Failure { get; private set; }

        public Task Completion => Task.CompletedTask;

        public TimeSpan AverageLatency => TimeSpan.FromMilliseconds(40);

        public TimeSpan CurrentLatency => AverageLatency;

        // Pulls up to a number of frames and reports them.
        public void Report(long pulled, long delay, long timestamp)
        {
            var block = new float[2 * (int)(pulled - Clock.FramesPulled)];
            Assert.Equal(block.Length, source.Read(block));
            Clock = new OutputClock(pulled, delay, timestamp);
        }

        public void Lose()
        {
            State = AudioOutputState.Lost;
            Failure = new AudioDeviceException(AudioDeviceErrorKind.Lost, "pulled out");
        }

        public void Fail(Exception thrown)
        {
            State = AudioOutputState.Faulted;
            Failure = thrown;
        }

        public void Finish(AudioOutputState end) => State = end;

        public void Start()
        {
            Assert.DoesNotContain(test._opened, other => other != this && other.IsRunning);
            State = running;
        }

        public void Stop()
        {
            if (IsRunning || State == AudioOutputState.Ready)
            {
                State = AudioOutputState.Stopped;
            }
        }

        public void Dispose()
        {
            Stop();
            IsDisposed = true;
        }
    }
}
