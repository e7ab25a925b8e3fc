using NAudio.Wave;

namespace GrooveLab.Audio.Tests.Devices;

/// <summary>Frames whose left sample is the frame number and whose right sample is its negative.</summary>
internal sealed class CountingSource(long frames, int sampleRate = 48000, int channels = 2, int atMost = int.MaxValue) : ISampleProvider
{
    public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(sampleRate, channels);

    public long Position { get; private set; }

    public int Read(Span<float> buffer)
    {
        var count = (int)Math.Min(Math.Min(buffer.Length / channels, atMost), frames - Position);
        for (var i = 0; i < count; i++)
        {
            for (var c = 0; c < channels; c++)
            {
                buffer[(i * channels) + c] = c == 0 ? Position : -Position;
            }

            Position++;
        }

        return count * channels;
    }
}
