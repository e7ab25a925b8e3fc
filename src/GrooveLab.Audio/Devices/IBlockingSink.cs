namespace GrooveLab.Audio.Devices;

/// <summary>The result of a write to a sink.</summary>
internal enum SinkResult
{
    /// <summary>Accepted.</summary>
    Done,

    /// <summary>The device is lost; nothing more can be written.</summary>
    Lost,
}

/// <summary>
/// The device side of a <see cref="BlockingOutput"/>: it accepts interleaved stereo floats at its own pace.
/// </summary>
/// <remarks>
/// After construction one thread uses it. <see cref="WaitForRoom"/>, <see cref="Write"/> and the properties read between them
/// do not allocate, throw or lock: a failure is kept as a number and turned into a message by <see cref="DescribeFailure"/>
/// after the music has stopped.
/// </remarks>
internal interface IBlockingSink : IDisposable
{
    string DeviceName { get; }

    int SampleRate { get; }

    /// <summary>The number of frames in a write.</summary>
    int PeriodFrames { get; }

    /// <summary>The buffer size in frames.</summary>
    int BufferFrames { get; }

    /// <summary>True if the sound cannot be heard.</summary>
    bool IsSilent { get; }

    /// <summary>Frames written but not yet heard, as of the last write.</summary>
    long DelayFrames { get; }

    long Underruns { get; }

    /// <summary>Blocks until a period fits, for a second at most; a device that accepts nothing for so long is lost.</summary>
    SinkResult WaitForRoom();

    /// <summary>Writes all frames. An underrun is counted and recovered from, not reported as a result.</summary>
    SinkResult Write(ReadOnlySpan<float> interleaved);

    /// <summary>The reason of the last <see cref="SinkResult.Lost"/>.</summary>
    AudioDeviceException DescribeFailure();
}
