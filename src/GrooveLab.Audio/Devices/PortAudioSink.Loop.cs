namespace GrooveLab.Audio.Devices;

/// <content>The members that the audio thread calls.</content>
internal sealed unsafe partial class PortAudioSink
{
    // A write blocks by itself; the library has no separate wait.
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
