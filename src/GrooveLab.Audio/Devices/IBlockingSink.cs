namespace GrooveLab.Audio.Devices;

/// <summary>How a sink took what it was given.</summary>
internal enum SinkResult
{
    /// <summary>Taken.</summary>
    Done,

    /// <summary>The device is gone; nothing more can be written.</summary>
    Lost,
}

/// <summary>
/// The device side of a <see cref="BlockingOutput"/>: something that takes interleaved stereo floats at its own pace.
/// </summary>
/// <remarks>
/// After it is made, one thread uses it. <see cref="WaitForRoom"/>, <see cref="Write"/> and the properties read between them
/// neither allocate nor throw nor take a lock: a failure is kept as a number, and put into words by <see cref="DescribeFailure"/>
/// when the music has stopped.
/// </remarks>
internal interface IBlockingSink : IDisposable
{
    string DeviceName { get; }

    int SampleRate { get; }

    /// <summary>Frames a write should have.</summary>
    int PeriodFrames { get; }

    /// <summary>Frames held when full.</summary>
    int BufferFrames { get; }

    /// <summary>What is played here cannot be heard.</summary>
    bool IsSilent { get; }

    /// <summary>Frames written and not yet heard, as of the last write.</summary>
    long DelayFrames { get; }

    long Underruns { get; }

    /// <summary>Blocks until a period fits, a second at most: a device that takes nothing for so long is lost.</summary>
    SinkResult WaitForRoom();

    /// <summary>Writes all of it; an underrun is counted and got over, not reported as a result.</summary>
    SinkResult Write(ReadOnlySpan<float> interleaved);

    /// <summary>The reason of the last <see cref="SinkResult.Lost"/>.</summary>
    AudioDeviceException DescribeFailure();
}
