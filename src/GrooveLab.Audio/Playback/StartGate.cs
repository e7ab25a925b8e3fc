using NAudio.Wave;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Silence until it is opened, then a source from its beginning, or from where it was read meanwhile: an output can run before the music is asked
/// to begin.
/// </summary>
/// <remarks>One thread reads. While it is closed, another thread may read the source; opening hands the source over.</remarks>
internal sealed class StartGate(ISampleProvider source) : ISampleProvider
{
    private long _held;
    private int _open;

    /// <inheritdoc/>
    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>Whether the source is heard.</summary>
    public bool IsOpen => Volatile.Read(ref _open) != 0;

    /// <summary>The frames of silence so far.</summary>
    public long Held => Interlocked.Read(ref _held);

    /// <summary>The frames of the source that were read while it was closed.</summary>
    public long Skipped { get; private set; }

    /// <summary>Reads and drops a part of the source, while the gate is closed.</summary>
    public void Skip(Span<float> scratch) => Skipped += source.Read(scratch) / 2;

    /// <summary>Opens it.</summary>
    public void Open() => Volatile.Write(ref _open, 1);

    /// <inheritdoc/>
    public int Read(Span<float> buffer)
    {
        if (IsOpen)
        {
            return source.Read(buffer);
        }

        buffer.Clear();
        Interlocked.Add(ref _held, buffer.Length / 2);
        return buffer.Length;
    }
}
