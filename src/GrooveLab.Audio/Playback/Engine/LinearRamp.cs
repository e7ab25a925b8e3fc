namespace GrooveLab.Audio.Playback.Engine;

/// <summary>A gain that moves linearly from one value to another; computed from the frame, never from the previous gain.</summary>
internal struct LinearRamp(float value)
{
    private float _from = value;
    private float _to = value;
    private long _start;
    private int _length;

    /// <summary>The target value.</summary>
    public readonly float Target => _to;

    /// <summary>The frame at which it reaches the target.</summary>
    public readonly long End => _start + _length;

    /// <summary>The value at a frame.</summary>
    public readonly float At(long frame)
    {
        if (frame >= End)
        {
            return _to;
        }

        return frame <= _start ? _from : _from + ((_to - _from) * ((frame - _start) / (float)_length));
    }

    /// <summary>Starts moving to another value from the current one.</summary>
    public void GoTo(float value, long frame, int frames)
    {
        _from = At(frame);
        _to = value;
        _start = frame;
        _length = Math.Max(0, frames);
    }
}
