using GrooveLab.Audio.Devices;
using GrooveLab.Testing;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class BlockingOutputTests
{
    // A test that takes this long has failed; no test waits this long when it passes.
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);

    [Theory]
    [InlineData(1)]
    [InlineData(479)]
    [InlineData(480)]
    [InlineData(4801)]
    public async Task Start_SourceThatEnds_EveryFrameIsWrittenInOrderThenABufferOfSilence(int frames)
    {
        FakeSink sink = new();
        using BlockingOutput output = new(sink, new CountingSource(frames, atMost: 100), raisePriority: false);
        output.Start();

        await output.Completion.WaitAsync(Patience, TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Ended, output.State);
        Assert.Null(output.Failure);
        Assert.Equal(frames, output.Clock.FramesPulled);
        for (var i = 0; i < frames; i++)
        {
            Assert.Equal(i, sink.Written[2 * i]);
        }

        Assert.All(sink.Written.Skip(2 * frames), sample => Assert.Equal(0, sample));
        Assert.True(sink.Written.Count / 2 >= frames + sink.BufferFrames);
        Assert.Equal(0, sink.Written.Count % (2 * sink.PeriodFrames));
        Assert.True(sink.IsDisposed);
    }

    [Fact]
    public async Task Stop_WhileTheDeviceIsFull_LeavesTheSourceAlone()
    {
        using SemaphoreSlim room = new(0);
        using SemaphoreSlim full = new(0);
        FakeSink sink = new();
        sink.OnWait = number =>
        {
            if (number == 3)
            {
                full.Release();
                room.Wait(Patience);
            }

            return SinkResult.Done;
        };
        CountingSource source = new(long.MaxValue);
        using BlockingOutput output = new(sink, source, raisePriority: false);
        output.Start();
        Assert.True(await full.WaitAsync(Patience, TestContext.Current.CancellationToken));
        var stop = Task.Run(output.Stop, TestContext.Current.CancellationToken);
        SpinWait.SpinUntil(() => output.IsStopping, Patience);
        room.Release();

        await stop.WaitAsync(Patience, TestContext.Current.CancellationToken);

        // Stop waits only a few seconds for the device's thread, which a busy machine may delay.
        await output.Completion.WaitAsync(Patience, TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Stopped, output.State);
        Assert.Equal(3 * sink.PeriodFrames, source.Position);
    }

    [Fact]
    public async Task Start_DeviceThatGoesAway_IsLostAndSaysWhy()
    {
        FakeSink sink = new() { OnWait = number => number < 5 ? SinkResult.Done : SinkResult.Lost };
        using BlockingOutput output = new(sink, new CountingSource(long.MaxValue), raisePriority: false);
        output.Start();

        await output.Completion.WaitAsync(Patience, TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Lost, output.State);
        var failure = Assert.IsType<AudioDeviceException>(output.Failure);
        Assert.Equal(AudioDeviceErrorKind.Lost, failure.Kind);
        Assert.True(sink.IsDisposed);
        Assert.Equal(5 * sink.PeriodFrames, output.Clock.FramesPulled);
    }

    [Fact]
    public async Task Start_SourceThatThrows_IsFaultedAndTheProcessLives()
    {
        using BlockingOutput output = new(new FakeSink(), new ThrowingSource(), raisePriority: false);
        output.Start();

        await output.Completion.WaitAsync(Patience, TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Faulted, output.State);
        Assert.IsType<InvalidDataException>(output.Failure);
    }

    [Fact]
    public void Start_Twice_Throws()
    {
        using BlockingOutput output = new(new FakeSink(), new CountingSource(10), raisePriority: false);
        output.Start();
        Assert.Throws<InvalidOperationException>(output.Start);
    }

    [Fact]
    public void Stop_NeverStarted_ClosesTheDevice()
    {
        FakeSink sink = new();
        BlockingOutput output = new(sink, new CountingSource(10), raisePriority: false);
        output.Dispose();

        Assert.True(sink.IsDisposed);
        Assert.True(output.Completion.IsCompleted);
        Assert.Throws<InvalidOperationException>(output.Start);
    }

    [Theory]
    [InlineData(48000, 1)]
    [InlineData(44100, 2)]
    public void Constructor_SourceOfAnotherShape_Throws(int rate, int channels) =>
        Assert.Throws<ArgumentException>(() => new BlockingOutput(new FakeSink(), new CountingSource(1, rate, channels), raisePriority: false));

    [Fact]
    public async Task Pump_Warm_AllocatesNothing()
    {
        long before = 0;
        long after = -1;
        FakeSink sink = new() { Keeps = false };
        sink.OnWait = number =>
        {
            if (number == 100)
            {
                before = GC.GetAllocatedBytesForCurrentThread();
            }
            else if (number == 1100)
            {
                after = GC.GetAllocatedBytesForCurrentThread();
                return SinkResult.Lost;
            }

            return SinkResult.Done;
        };
        using BlockingOutput output = new(sink, new FrameCounterTap(new CountingSource(long.MaxValue)), raisePriority: false);
        output.Start();

        await output.Completion.WaitAsync(Patience, TestContext.Current.CancellationToken);
        Assert.Equal(before, after);
    }

    private sealed class ThrowingSource : ISampleProvider
    {
        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(48000, 2);

        public int Read(Span<float> buffer) => throw new InvalidDataException("against the contract");
    }

    private sealed class FakeSink : IBlockingSink
    {
        private int _waits;

        public List<float> Written { get; } = [];

        public bool Keeps { get; init; } = true;

        public bool IsDisposed { get; private set; }

        public Func<int, SinkResult>? OnWait { get; set; }

        public string DeviceName => "fake";

        public int SampleRate => 48000;

        public int PeriodFrames => 480;

        public int BufferFrames => 1920;

        public bool IsSilent => false;

        public long DelayFrames => BufferFrames;

        public long Underruns => 0;

        public SinkResult WaitForRoom() => OnWait?.Invoke(_waits++) ?? SinkResult.Done;

        public SinkResult Write(ReadOnlySpan<float> interleaved)
        {
            if (Keeps)
            {
                Written.AddRange(interleaved);
            }

            return SinkResult.Done;
        }

        public AudioDeviceException DescribeFailure() => new(AudioDeviceErrorKind.Lost, "pulled out");

        public void Dispose() => IsDisposed = true;
    }
}
