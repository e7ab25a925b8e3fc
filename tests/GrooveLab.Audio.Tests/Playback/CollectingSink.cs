using GrooveLab.Audio.Devices;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>A device without a clock: it takes a period whenever the next bar is ready, so a test does not depend on the machine's load.</summary>
internal sealed class CollectingSink : IBlockingSink
{
    private readonly List<float> _samples = [];

    public Func<bool> HasRoom { get; set; } = () => true;

    public float[] Samples => [.. _samples];

    public string DeviceName => "collecting";

    public int SampleRate => PlaybackHelp.Rate;

    public int PeriodFrames => 480;

    public int BufferFrames => 1920;

    public bool IsSilent => false;

    public long DelayFrames => 1440;

    public long Underruns => 0;

    public SinkResult WaitForRoom()
    {
        while (!HasRoom())
        {
            Thread.Yield();
        }

        return SinkResult.Done;
    }

    public SinkResult Write(ReadOnlySpan<float> interleaved)
    {
        _samples.AddRange(interleaved);
        return SinkResult.Done;
    }

    public AudioDeviceException DescribeFailure() => new(AudioDeviceErrorKind.Lost, "lost");

    public void Dispose()
    {
    }
}
