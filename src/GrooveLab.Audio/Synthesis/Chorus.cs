using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A chorus: a delay line with three slowly moving taps for each side (J. Dattorro, Effect Design part 2, 1997). Works on whole
/// quanta; its output comes one quantum after its input.
/// </summary>
internal sealed class Chorus
{
    private const int TapsPerSide = 3;
    private const double MiddleSeconds = 0.012;
    private const double DepthSeconds = 0.0022;
    private const double CyclesPerSecond = 0.37;
    private const float TapGain = 3.2f;

    private readonly float[] _line;
    private readonly int _mask;
    private readonly float[] _delays = new float[2 * TapsPerSide];
    private readonly float _middle;
    private readonly float _depth;
    private readonly double _cyclesPerQuantum;
    private double _phase;
    private int _write;
    private int _quietQuanta;

    public Chorus(int sampleRate)
    {
        // At least two quanta, so that every read lies before the current write position.
        _middle = (float)Math.Max(MiddleSeconds * sampleRate, (DepthSeconds * sampleRate) + (2 * Quantum.Frames));
        _depth = (float)(DepthSeconds * sampleRate);
        _cyclesPerQuantum = CyclesPerSecond * Quantum.Frames / sampleRate;
        _line = new float[DelayLength.PowerOfTwo(_middle + _depth + (2 * Quantum.Frames))];
        _mask = _line.Length - 1;
        for (var tap = 0; tap < _delays.Length; tap++)
            _delays[tap] = Delay(tap);
        _quietQuanta = int.MaxValue / 2;
    }

    /// <summary>Adds the next quantum to the output.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Process(ReadOnlySpan<float> input, Span<float> left, Span<float> right)
    {
        // The phase advances in silence too, so that later sound does not depend on skipped quanta.
        _phase += _cyclesPerQuantum;
        _phase -= Math.Floor(_phase);
        var isQuiet = Blocks.AreZero(input);
        _quietQuanta = isQuiet ? Math.Min(_quietQuanta + 1, int.MaxValue / 2) : 0;
        input.CopyTo(_line.AsSpan(_write, Quantum.Frames));
        for (var tap = 0; tap < _delays.Length; tap++)
        {
            var delay = Delay(tap);
            if (_quietQuanta <= _line.Length / Quantum.Frames)
                AddTap(tap < TapsPerSide ? left : right, _delays[tap], delay);
            _delays[tap] = delay;
        }
        _write = (_write + Quantum.Frames) & _mask;
    }

    private float Delay(int tap)
    {
        // A third of a cycle between a side's taps, a sixth between the sides.
        var side = tap / TapsPerSide;
        var turn = _phase + ((tap % TapsPerSide) / (double)TapsPerSide) + (side / (2.0 * TapsPerSide));
        return _middle + (_depth * (float)Math.Sin(2 * Math.PI * turn));
    }

    /// <summary>
    /// One tap over a quantum. Its delay changes by a fraction of a frame, so its whole part stays the same over long stretches, which are
    /// read in one go.
    /// </summary>
    [MethodImpl(HotCode.Compiled)]
    private void AddTap(Span<float> output, float from, float to)
    {
        unchecked
        {
            var step = (to - from) / Quantum.Frames;
            for (var i = 0; i < Quantum.Frames; i += Vector256<float>.Count)
            {
                var whole = (int)(from + (step * i));
                var newest = (_write + i - whole) & _mask;
                // If the whole part changes within eight frames, or the read crosses the end of the line, frames are read one by one.
                if ((int)(from + (step * (i + 7))) == whole && newest >= 1 && newest + Vector256<float>.Count <= _line.Length)
                {
                    ref var line = ref _line[newest - 1];
                    ref var sum = ref output[i];
                    var older = Vector256.LoadUnsafe(ref line);
                    var newer = Vector256.LoadUnsafe(ref line, 1);
                    var fraction = Vector256.Create(from - whole) + ((Vector256.Create((float)i) + Vector256.Create(0f, 1, 2, 3, 4, 5, 6, 7)) * step);
                    (Vector256.LoadUnsafe(ref sum) + ((newer + (fraction * (older - newer))) * TapGain)).StoreUnsafe(ref sum);
                    continue;
                }
                for (var frame = i; frame < i + Vector256<float>.Count; frame++)
                {
                    whole = (int)(from + (step * frame));
                    var fraction = from - whole + (frame * step);
                    var at = _write + frame - whole;
                    var newer = _line[at & _mask];
                    var older = _line[(at - 1) & _mask];
                    output[frame] += TapGain * (newer + (fraction * (older - newer)));
                }
            }
        }
    }
}
