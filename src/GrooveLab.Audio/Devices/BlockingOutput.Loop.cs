namespace GrooveLab.Audio.Devices;

/// <content>The loop of the audio thread.</content>
internal sealed partial class BlockingOutput
{
    // True while the source is being read; an exception then belongs to the source.
    private bool _isInSource;

    private AudioOutputState Pump()
    {
        long pulled = 0;
        long silenceLeft = -1;
        while (!_stopRequested)
        {
            if (_sink.WaitForRoom() == SinkResult.Lost)
            {
                return AudioOutputState.Lost;
            }

            // After Stop the source is not read, even if the device has delayed this thread for long.
            if (_stopRequested)
            {
                break;
            }

            var samples = 0;
            if (silenceLeft < 0)
            {
                samples = Fill();
                pulled += samples / Channels;
                if (samples < _block.Length)
                {
                    // One period more than the buffer: plugins and servers hold a period that they do not report.
                    silenceLeft = _sink.BufferFrames + _sink.PeriodFrames;
                }
            }

            Array.Clear(_block, samples, _block.Length - samples);
            if (_sink.Write(_block) == SinkResult.Lost)
            {
                return AudioOutputState.Lost;
            }

            if (silenceLeft < 0)
            {
                _clock.Publish(pulled, _sink.DelayFrames);
            }
            else
            {
                // The padding after the last frame counts towards the device's delay, not the music's.
                silenceLeft -= (_block.Length - samples) / Channels;
                var written = _sink.BufferFrames + _sink.PeriodFrames - silenceLeft;
                _clock.Publish(pulled, Math.Max(0, _sink.DelayFrames - written));
                if (silenceLeft <= 0)
                {
                    return AudioOutputState.Ended;
                }
            }
        }

        return AudioOutputState.Stopped;
    }

    /// <summary>Reads a whole block unless the source ends in it. A source may return less than requested; only 0 means its end.</summary>
    private int Fill()
    {
        var filled = 0;
        while (filled < _block.Length)
        {
            _isInSource = true;
            var read = _source.Read(_block.AsSpan(filled));
            _isInSource = false;
            if (read <= 0)
            {
                break;
            }

            filled += read;
        }

        return filled;
    }
}
