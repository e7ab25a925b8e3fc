using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Playback;

/// <summary>A gain on the mix that moves to a new value within a few milliseconds, so that steps are inaudible.</summary>
/// <param name="full">The gain at full volume.</param>
/// <param name="sampleRate">Frames a second, in Hz.</param>
internal sealed class MasterVolume(float full, int sampleRate)
{
    private const double GlideSeconds = 0.01;

    private readonly int _glideFrames = Math.Max(1, (int)Math.Round(GlideSeconds * sampleRate));
    private float _from = 1;
    private float _to = 1;
    private int _glideLeft;

    /// <summary>Moves to a volume from the next frame on; 1 is full.</summary>
    public void MoveTo(float volume)
    {
        if (volume == _to)
        {
            return;
        }

        _from = Now(0);
        _to = volume;
        _glideLeft = _glideFrames;
    }

    /// <summary>Sets a volume from the next frame on, without a glide: for silence.</summary>
    public void Set(float volume)
    {
        _from = _to = volume;
        _glideLeft = 0;
    }

    /// <summary>Scales the next frames of both sides.</summary>
    public void Apply(Span<float> left, Span<float> right)
    {
        var gliding = Math.Min(_glideLeft, left.Length);
        for (var i = 0; i < gliding; i++)
        {
            var factor = full * Now(i + 1);
            left[i] *= factor;
            right[i] *= factor;
        }

        _glideLeft -= gliding;
        Blocks.Scale(left[gliding..], full * _to);
        Blocks.Scale(right[gliding..], full * _to);
    }

    private float Now(int ahead) => _to + ((_from - _to) * Math.Max(0, _glideLeft - ahead) / _glideFrames);
}
