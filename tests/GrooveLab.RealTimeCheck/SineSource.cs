using NAudio.Wave;

namespace GrooveLab.RealTimeCheck;

/// <summary>A quiet 440 Hz on both channels for a number of frames.</summary>
internal sealed class SineSource(int sampleRate, long frames) : ISampleProvider
{
    private long _position;

    public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(sampleRate, 2);

    public int Read(Span<float> buffer)
    {
        var count = (int)Math.Min(buffer.Length / 2, frames - _position);
        for (var i = 0; i < count; i++)
        {
            var sample = 0.1f * MathF.Sin((float)(2 * Math.PI * (440.0 * _position / sampleRate % 1)));
            buffer[2 * i] = sample;
            buffer[(2 * i) + 1] = sample;
            _position++;
        }

        return count * 2;
    }
}
