namespace GrooveLab.Audio.Devices;

/// <content>What the audio thread calls.</content>
internal sealed unsafe partial class PortAudioSink
{
    // Writing blocks by itself; the library has no wait of its own.
    public SinkResult WaitForRoom() => SinkResult.Done;

    public SinkResult Write(ReadOnlySpan<float> interleaved)
    {
        int error;
        fixed (float* frames = interleaved)
        {
            error = _library.Write(_stream, frames, interleaved.Length / Channels);
        }

        if (error == PortAudioLibrary.OutputUnderflowed)
        {
            Interlocked.Increment(ref _underruns);
        }
        else if (error != PortAudioLibrary.NoError)
        {
            _error = error;
            return SinkResult.Lost;
        }

        return SinkResult.Done;
    }
}
