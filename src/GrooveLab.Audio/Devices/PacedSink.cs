namespace GrooveLab.Audio.Devices;

/// <summary>
/// No device: accepts frames at the pace of a clock and discards them, so that musical time continues.
/// </summary>
/// <remarks>
/// The time of each period is computed from one anchor, so the pace does not drift. A process that was delayed by more than a
/// second (a debugger, a stopped job) does not race to catch up: the anchor moves.
/// </remarks>
internal sealed class PacedSink : IBlockingSink
{
    private readonly TimeProvider _time;
    private readonly Action<TimeSpan> _sleep;
    private readonly long _headStart;
    private long _anchor;
    private bool _anchored;
    private long _framesSinceAnchor;

    /// <param name="sampleRate">Frames a second.</param>
    /// <param name="time">The clock that sets the pace.</param>
    /// <param name="sleep">How to wait on that clock.</param>
    /// <param name="headStartFrames">
    /// Frames to wait before the first pull. After a lost device: the frames that it had pulled and that would still be sounding.
    /// Negative if the take-over is late: that many frames are due at once.
    /// </param>
    public PacedSink(int sampleRate, TimeProvider time, Action<TimeSpan> sleep, long headStartFrames)
    {
        SampleRate = sampleRate;
        PeriodFrames = Math.Max(1, sampleRate / 100);
        _time = time;
        _sleep = sleep;
        _headStart = headStartFrames;
    }

    public string DeviceName => "silent clock";

    public int SampleRate { get; }

    public int PeriodFrames { get; }

    public int BufferFrames => PeriodFrames;

    public bool IsSilent => true;

    public long DelayFrames => PeriodFrames;

    public long Underruns => 0;

#pragma warning disable RS0030 // This acts as the device: it paces the source by the system's clock, as a device does by its own.
    public SinkResult WaitForRoom()
    {
        var now = _time.GetTimestamp();
        if (!_anchored)
        {
            _anchored = true;
            _anchor = now;
            _framesSinceAnchor = _headStart;
        }

        var elapsed = (double)(now - _anchor) / _time.TimestampFrequency;
        var wait = ((double)_framesSinceAnchor / SampleRate) - elapsed;
        if (wait < -1)
        {
            _anchor = now;
            _framesSinceAnchor = 0;
        }
        else if (wait > 0)
        {
            _sleep(TimeSpan.FromSeconds(wait));
        }

        return SinkResult.Done;
    }
#pragma warning restore RS0030

    public SinkResult Write(ReadOnlySpan<float> interleaved)
    {
        _framesSinceAnchor += interleaved.Length / 2;
        return SinkResult.Done;
    }

    public AudioDeviceException DescribeFailure() =>
        new(AudioDeviceErrorKind.Lost, "The silent clock stopped.");

    public void Dispose()
    {
        // Holds nothing.
    }
}
