namespace GrooveLab.Audio.Devices;

/// <content>The members that the audio thread calls.</content>
internal sealed unsafe partial class AlsaSink
{
    public SinkResult WaitForRoom()
    {
        for (var attempt = 0; attempt < RecoveryLimit; attempt++)
        {
            var result = AlsaLibrary.Wait(_pcm, StallMilliseconds);
            if (result > 0)
            {
                return SinkResult.Done;
            }

            if (result == 0)
            {
                _error = AlsaLibrary.InputOutput;
                return SinkResult.Lost;
            }

            if (!Recover(result))
            {
                return SinkResult.Lost;
            }
        }

        return SinkResult.Lost;
    }

    public SinkResult Write(ReadOnlySpan<float> interleaved)
    {
        var frames = interleaved.Length / Channels;
        fixed (float* samples = interleaved)
        fixed (byte* converted = _converted)
        {
            var next = _format switch
            {
                AlsaLibrary.FormatFloat => (byte*)samples,
                AlsaLibrary.FormatSigned32 => ToInt32(interleaved, converted),
                _ => ToInt16(interleaved, converted),
            };
            var frameBytes = Channels * (_format == AlsaLibrary.FormatSigned16 ? sizeof(short) : sizeof(int));
            var failures = 0;
            while (frames > 0)
            {
                var written = AlsaLibrary.WriteInterleaved(_pcm, next, (nuint)frames);
                if (written > 0)
                {
                    failures = 0;
                    frames -= (int)written;
                    next += written * frameBytes;
                }
                else if (++failures > RecoveryLimit || !Recover((int)written))
                {
                    return SinkResult.Lost;
                }
            }
        }

        _delay = AlsaLibrary.Delay(_pcm, out var delay) == 0 ? Math.Max(0, delay) : BufferFrames;
        return SinkResult.Done;
    }

    private static byte* ToInt32(ReadOnlySpan<float> samples, byte* destination)
    {
        SampleFormats.ToInt32(samples, new Span<int>(destination, samples.Length));
        return destination;
    }

    private static byte* ToInt16(ReadOnlySpan<float> samples, byte* destination)
    {
        SampleFormats.ToInt16(samples, new Span<short>(destination, samples.Length));
        return destination;
    }

    /// <summary>Prepares the device again after an underrun, a suspend or a signal; false if it is lost.</summary>
    private bool Recover(int error)
    {
        _error = error;
        if (error is 0 or AlsaLibrary.TryAgain or AlsaLibrary.Interrupted)
        {
            return true;
        }

        if (error is not (AlsaLibrary.BrokenPipe or AlsaLibrary.StreamSuspended))
        {
            return false;
        }

        Interlocked.Increment(ref _underruns);
        var result = AlsaLibrary.Recover(_pcm, error, 1);
        if (result < 0)
        {
            _error = result;
        }

        return result >= 0;
    }
}
