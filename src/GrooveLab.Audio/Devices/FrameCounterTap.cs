using NAudio.Wave;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Replaces the right channel by a frame counter, so that a recording of the output tells of every frame lost or repeated.
/// </summary>
/// <remarks>
/// For checks only, never for ears: it is a loud sawtooth. The left channel and the work behind it stay as they are. The counter
/// runs from 1 to <see cref="Period"/> in steps that survive a conversion to 16 bits, and never is zero, so silence that a device
/// puts in is told from it.
/// </remarks>
/// <param name="source">What is played; stereo.</param>
public sealed class FrameCounterTap(ISampleProvider source) : ISampleProvider
{
    /// <summary>How many frames are counted before the counter begins anew.</summary>
    public const int Period = 4000;

    /// <summary>The distance of neighbouring counts, in steps of a 16-bit sample.</summary>
    public const int Step = 8;

    private int _count;

    /// <inheritdoc/>
    public WaveFormat WaveFormat => source.WaveFormat;

    /// <inheritdoc/>
    public int Read(Span<float> buffer)
    {
        int read = source.Read(buffer);
        for (int i = 1; i < read; i += 2)
        {
            buffer[i] = (_count + 1) * Step / 32768f;
            _count = _count + 1 == Period ? 0 : _count + 1;
        }

        return read;
    }
}
