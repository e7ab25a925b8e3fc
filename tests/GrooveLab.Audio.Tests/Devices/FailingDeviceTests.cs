using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

/// <summary>Devices that throw any exception from any member at any time: the music continues, each frame once.</summary>
public sealed class FailingDeviceTests
{
    private const int Rate = 48_000;

    private readonly ManualTime _time = new();

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Supervise_DeviceThrowingAtRandomFromEveryMember_KeepsTheMusicGoing(int seed)
    {
        var chance = new Random(seed);
        var failures = new FailureLog();
        var source = new CountingSource(long.MaxValue);
        var running = new List<Wild>();
        var thrown = 0L;
        void MayThrow()
        {
            if (chance.Next(8) == 0)
            {
                thrown++;
                throw Anything(chance);
            }
        }

        using var output = new ResilientOutput(
            source,
            lent =>
            {
                MayThrow();
                var device = new Wild(lent, AudioOutputState.Playing, _time, MayThrow);
                running.Add(device);
                return device;
            },
            (lent, _) =>
            {
                var silence = new Wild(lent, AudioOutputState.Silent, _time, () => { });
                running.Add(silence);
                return silence;
            },
            startWithoutDevice: true,
            _time,
            failures);
        output.Start();
        var heard = 0L;
        for (var round = 0; round < 20_000; round++)
        {
            // Every running device pulls, even one that was abandoned and did not stop.
            foreach (var one in running)
            {
                one.Pull(96);
            }

            running.RemoveAll(one => one.IsOver);
            if (chance.Next(200) == 0 && running.Count > 0)
            {
                running[^1].Lose();
            }

            _time.Advance(TimeSpan.FromMilliseconds(20));
            _ = (output.State, output.Clock, output.Underruns, output.AverageLatency, output.CurrentLatency, output.HasRealTimePriority);
            Assert.Contains(output.State, new[] { AudioOutputState.Playing, AudioOutputState.Silent, AudioOutputState.Ready });
            if (round % 100 == 99)
            {
                Assert.True(source.Position > heard, $"The music stood still from round {round - 100} on.");
                heard = source.Position;
            }
        }

        Assert.True(thrown > 1000, $"{thrown} exceptions");
        Assert.True(output.Losses > 100 && output.Retakes > 100, $"{output.Losses} losses, {output.Retakes} retakes");
        Assert.InRange(failures.All.Count, 1, 32);
        Assert.False(output.Completion.IsCompleted);
        output.Stop();
        Assert.True(output.Completion.IsCompleted);
        var last = source.Position;
        running.ForEach(one => one.Pull(96));
        Assert.Equal(last, source.Position);
    }

    [Fact]
    public void Supervise_DeviceThatDoesNotStop_ReadsNothingOnceItIsLetGo()
    {
        var source = new CountingSource(long.MaxValue);
        var devices = new List<Wild>();
        Wild Open(ISampleProvider lent, AudioOutputState state)
        {
            devices.Add(new Wild(lent, state, _time, () => { }) { IgnoresStop = true });
            return devices[^1];
        }

        using var output = new ResilientOutput(
            source, lent => Open(lent, AudioOutputState.Playing), (lent, _) => Open(lent, AudioOutputState.Silent), false, _time);
        output.Start();
        devices[0].Pull(1000);
        devices[0].Lose();
        _time.Advance(TimeSpan.FromMilliseconds(60));
        devices[1].Pull(100);
        Assert.Equal(1100, source.Position);
        devices[0].Pull(1000);
        Assert.Equal(1100, source.Position);
        Assert.Equal(1100, output.Clock.FramesPulled);
    }

    [Fact]
    public void Open_DeviceThatThrowsAnything_IsADeviceThatFailed()
    {
        var error = Assert.Throws<AudioDeviceException>(() => new ResilientOutput(
            new CountingSource(1), _ => throw new BadImageFormatException("half a library"), (_, _) => throw new NotSupportedException(), false, _time));

        Assert.Equal(AudioDeviceErrorKind.Failed, error.Kind);
        Assert.Contains("half a library", error.Message, StringComparison.Ordinal);
        Assert.IsType<BadImageFormatException>(error.InnerException);
    }

    [Fact]
    public void Stop_WhileADeviceHangsInOpening_EndsAllTheSame()
    {
        using var release = new ManualResetEventSlim();
        using var hanging = new ManualResetEventSlim();
        var source = new CountingSource(long.MaxValue);
        var attempts = 0;
        Wild? device = null;
        var output = new ResilientOutput(
            source,
            lent =>
            {
                if (attempts++ > 0)
                {
                    hanging.Set();
                    release.Wait(TestContext.Current.CancellationToken);
                }

                return device = new Wild(lent, AudioOutputState.Playing, _time, () => { });
            },
            (lent, _) => new Wild(lent, AudioOutputState.Silent, _time, () => { }),
            startWithoutDevice: false,
            _time)
        {
            StopPatience = TimeSpan.Zero,
        };
        output.Start();
        device!.Lose();
        var supervisor = new Thread(() =>
        {
            _time.Advance(TimeSpan.FromSeconds(2));
            output.Supervise();
        });
        supervisor.Start();
        hanging.Wait(TestContext.Current.CancellationToken);

        output.Stop();

        Assert.True(output.Completion.IsCompleted);
        Assert.Equal(AudioOutputState.Stopped, output.State);
        release.Set();
        supervisor.Join();
        Assert.Equal(AudioOutputState.Stopped, output.State);
    }

    [Theory]
    [InlineData("wait")]
    [InlineData("write")]
    [InlineData("delay")]
    public async Task BlockingOutput_SinkThatThrows_IsALostDeviceAndNotAFaultySource(string where)
    {
        var failures = new FailureLog();
        using var output = new BlockingOutput(new WildSink(where), new CountingSource(long.MaxValue), raisePriority: false, failures);
        output.Start();
        await output.Completion.WaitAsync(TestContext.Current.CancellationToken);

        Assert.Equal(AudioOutputState.Lost, output.State);
        var failure = Assert.IsType<AudioDeviceException>(output.Failure);
        Assert.Equal(AudioDeviceErrorKind.Failed, failure.Kind);
        Assert.Contains("thrown in " + where, failure.Message, StringComparison.Ordinal);

        // Closing it failed too.
        Assert.Equal("closing the sound device", Assert.Single(failures.All).Doing);
    }

    [Fact]
    public void MeasuredSource_SourceThatThrows_IsAtItsEndAndSaysWhy()
    {
        var measured = new MeasuredSource(new Throwing());

        Assert.Equal(0, measured.Read(new float[64]));

        Assert.True(measured.Ended);
        Assert.IsType<InvalidDataException>(measured.Failure);
    }

    private static Exception Anything(Random chance) => chance.Next(7) switch
    {
        0 => new AudioDeviceException(AudioDeviceErrorKind.Busy, "busy"),
        1 => new System.Runtime.InteropServices.COMException("unplugged", unchecked((int)0x88890004)),
        2 => new EntryPointNotFoundException("snd_pcm_wait"),
        3 => new NullReferenceException(),
        4 => new OutOfMemoryException(),
        5 => new ObjectDisposedException("device"),
        _ => new Unspeakable(),
    };

    /// <summary>An exception whose message throws.</summary>
    private sealed class Unspeakable : Exception
    {
        public override string Message => throw new InvalidOperationException("no words");
    }

    private sealed class Throwing : ISampleProvider
    {
        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(Rate, 2);

        public int Read(Span<float> buffer) => throw new InvalidDataException("against the contract");
    }

    private sealed class Wild(ISampleProvider source, AudioOutputState running, ManualTime time, Action mayThrow) : IAudioOutput
    {
        private readonly float[] _block = new float[2 * 1000];
        private AudioOutputState _state = AudioOutputState.Ready;
        private OutputClock _clock;

        public bool IgnoresStop { get; init; }

        public bool IsOver { get; private set; }

        public string DeviceName => May("wild");

        public int SampleRate => May(Rate);

        public int BufferFrames => May(1920);

        public AudioOutputState State => May(_state);

        public OutputClock Clock => May(_clock);

        public bool HasRealTimePriority => May(false);

        public long Underruns => May(0L);

        public Exception? Failure => May<Exception?>(null);

        public Task Completion => May(Task.CompletedTask);

        public TimeSpan AverageLatency => May(TimeSpan.FromMilliseconds(40));

        public TimeSpan CurrentLatency => May(TimeSpan.FromMilliseconds(40));

        public void Pull(int frames)
        {
            if (_state != running && !IgnoresStop)
            {
                IsOver = _state != AudioOutputState.Ready;
                return;
            }

            var read = source.Read(_block.AsSpan(0, 2 * frames));
            IsOver = read == 0;
            _clock = new OutputClock(_clock.FramesPulled + (read / 2), 480, time.GetTimestamp());
        }

        public void Lose() => _state = AudioOutputState.Lost;

        public void Start()
        {
            mayThrow();
            _state = running;
        }

        public void Stop()
        {
            mayThrow();
            if (!IgnoresStop && _state != AudioOutputState.Lost)
            {
                _state = AudioOutputState.Stopped;
            }
        }

        public void Dispose() => mayThrow();

        private T May<T>(T value)
        {
            mayThrow();
            return value;
        }
    }

    private sealed class WildSink(string where) : IBlockingSink
    {
        public string DeviceName => "wild";

        public int SampleRate => Rate;

        public int PeriodFrames => 480;

        public int BufferFrames => 1920;

        public bool IsSilent => false;

        public long DelayFrames => At("delay", 480L);

        public long Underruns => 0;

        public SinkResult WaitForRoom() => At("wait", SinkResult.Done);

        public SinkResult Write(ReadOnlySpan<float> interleaved) => At("write", SinkResult.Done);

        public AudioDeviceException DescribeFailure() => throw new InvalidOperationException("no words");

        public void Dispose() => throw new InvalidOperationException("cannot be closed");

        private T At<T>(string here, T value) => here == where ? throw new InvalidOperationException("thrown in " + here) : value;
    }
}
