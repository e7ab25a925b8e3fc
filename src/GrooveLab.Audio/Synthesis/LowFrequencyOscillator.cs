using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A triangle between -1 and 1 that starts at 0, rising, after its delay (SoundFont 2.04, 8.1.3, generators 21-24).
/// </summary>
internal struct LowFrequencyOscillator
{
    private int _delay;
    private double _phase;
    private double _phasePerFrame;

    public void Start(int delayFrames, double cyclesPerFrame)
    {
        _delay = delayFrames;
        _phase = 0;
        _phasePerFrame = cyclesPerFrame;
    }

    /// <summary>Changes the speed from now on.</summary>
    public void SetSpeed(double cyclesPerFrame) => _phasePerFrame = cyclesPerFrame;

    /// <summary>The value some frames ahead.</summary>
    [MethodImpl(HotCode.Compiled)]
    public readonly float Value(int ahead)
    {
        if (ahead <= _delay)
            return _delay > 0 ? 0 : Triangle(_phase);
        return Triangle(_phase + ((ahead - _delay) * _phasePerFrame));
    }

    [MethodImpl(HotCode.Compiled)]
    public void Advance(int frames)
    {
        var waited = Math.Min(frames, _delay);
        _delay -= waited;
        _phase += (frames - waited) * _phasePerFrame;
        if (_phase >= 1)
            _phase -= Math.Floor(_phase);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float Triangle(double phase)
    {
        var p = (float)(phase - Math.Floor(phase));
        if (p < 0.25f)
            return 4 * p;
        return p < 0.75f ? 2 - (4 * p) : (4 * p) - 4;
    }
}
