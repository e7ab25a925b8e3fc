using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// A look-ahead limiter for the stereo mix: no sample leaves it above the ceiling, and sound that stays below the ceiling leaves
/// it unchanged bit for bit, only later.
/// </summary>
/// <remarks>
/// <para>
/// Not a loudness maximiser or a true-peak limiter: it looks at samples and leaves 1.2 dB for peaks between them; with that the demo's
/// true peak stays below -1 dB, as a test measures. Both channels get the same gain, so the stereo image does not move.
/// </para>
/// <para>
/// The gain that each frame needs is held down over the look-ahead window, recovers exponentially, and is smoothed by two
/// moving averages in a row, each half the look-ahead long; a moving average of values that are all low enough is low enough.
/// Gains are integers (30 bits of fraction): running sums of them are exact, so nothing drifts, the gain comes back to
/// exactly one, and the result does not depend on block sizes.
/// </para>
/// <para>One thread owns an instance. After the constructor nothing allocates, locks, logs or throws.</para>
/// </remarks>
public sealed class Limiter
{
    /// <summary>The default ceiling in dB of full scale.</summary>
    public const double DefaultCeilingDecibels = -1.2;

    /// <summary>The gain reduction that is not heard, in dB. Common practice, no source.</summary>
    public const double UnheardDecibels = 4;

    private const int FractionBits = 30;
    private const long One = 1L << FractionBits;

    // 10^(-4/20).
    private const long Heard = (long)(One * 0.630957);

    // Long enough that the period of a low bass note does not modulate the gain, short enough not to be heard as a dip.
    private const double ReleaseSeconds = 0.15;
    private const double LookAheadSeconds = 0.004;

    private const int MostAtOnce = 512;

    private readonly float _ceiling;
    private readonly int _half;
    private readonly long _release;
    private readonly float[] _left;
    private readonly float[] _right;
    private readonly MinimumWindow _minimum;
    private readonly long[] _first;
    private readonly long[] _second;
    private readonly long _whole;
    private readonly ulong _reciprocal;
    private int _position;
    private int _average;
    private long _held = One;
    private long _firstSum;
    private long _secondSum;
    private long _reduced;
    private long _squashed;
    private long _unusable;
    private int _quiet;

    /// <summary>Creates a limiter at rest.</summary>
    /// <param name="sampleRate">Frames a second, in Hz.</param>
    /// <param name="ceilingDecibels">The highest output level, in dB of full scale; 0 or less.</param>
    public Limiter(int sampleRate, double ceilingDecibels = DefaultCeilingDecibels)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRate);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(ceilingDecibels, 0);
        _ceiling = (float)Math.Pow(10, ceilingDecibels / 20);
        _half = Math.Max(1, (int)Math.Round(sampleRate * LookAheadSeconds / 2));
        LatencyFrames = 2 * (_half - 1);
        _release = (long)(One * (1 - Math.Exp(-1 / (ReleaseSeconds * sampleRate))));
        _left = new float[LatencyFrames + 1];
        _right = new float[LatencyFrames + 1];
        _minimum = new MinimumWindow(LatencyFrames + 1);
        _first = new long[_half];
        _second = new long[_half];
        _whole = _half * One;
        _reciprocal = _half == 1 ? 0 : (ulong.MaxValue / (ulong)_half) + 1;
        Reset();
    }

    /// <summary>The delay in frames; the engine renders that much ahead and drops that much.</summary>
    public int LatencyFrames { get; }

    /// <summary>The highest output magnitude, linear.</summary>
    public float Ceiling => _ceiling;

    /// <summary>The number of frames reduced so far. From any thread.</summary>
    public long ReducedFrames => Interlocked.Read(ref _reduced);

    /// <summary>The number of frames reduced by more than <see cref="UnheardDecibels"/> so far. From any thread.</summary>
    public long SquashedFrames => Interlocked.Read(ref _squashed);

    /// <summary>The number of samples that were not finite and were replaced by silence. From any thread.</summary>
    public long UnusableSamples => Interlocked.Read(ref _unusable);

    /// <summary>Resets the limiter: silence in the look-ahead, gain one. The counters stay.</summary>
    public void Reset()
    {
        Array.Clear(_left);
        Array.Clear(_right);
        _minimum.Clear();
        Array.Fill(_first, One);
        Array.Fill(_second, One);
        _firstSum = _whole;
        _secondSum = _whole;
        _held = One;
        _position = 0;
        _average = 0;
        _quiet = int.MaxValue;
    }

    /// <summary>Limits the next frames in place; both spans have the same length, of any size.</summary>
    public void Process(Span<float> left, Span<float> right)
    {
        var frames = Math.Min(left.Length, right.Length);
        if (IsQuiet && Blocks.AreWithin(left[..frames], _ceiling) && Blocks.AreWithin(right[..frames], _ceiling))
        {
            Delay(left[..frames], _left);
            _position = Delay(right[..frames], _right);
            return;
        }

        long reduced = 0;
        long squashed = 0;
        unchecked
        {
            for (var i = 0; i < frames; i++)
            {
                var l = Usable(left[i]);
                var r = Usable(right[i]);
                var peak = MathF.Max(MathF.Abs(l), MathF.Abs(r));

                _left[_position] = l;
                _right[_position] = r;
                var next = _position + 1 == _left.Length ? 0 : _position + 1;

                // Once the whole window and both averages contain only gain one, there is nothing to compute.
                if (peak <= _ceiling && IsQuiet)
                {
                    left[i] = _left[next];
                    right[i] = _right[next];
                    _position = next;
                    continue;
                }

                var gain = Advance(peak);
                l = _left[next];
                r = _right[next];
                _position = next;
                if (gain != One)
                {
                    var factor = (double)gain / One;
                    l = (float)Math.Clamp(l * factor, -_ceiling, _ceiling);
                    r = (float)Math.Clamp(r * factor, -_ceiling, _ceiling);
                    reduced++;
                    squashed += gain < Heard ? 1 : 0;
                }

                left[i] = l;
                right[i] = r;
            }
        }

        if (reduced != 0)
        {
            Interlocked.Add(ref _reduced, reduced);
            Interlocked.Add(ref _squashed, squashed);
        }
    }

    // The whole window and both averages contain only gain one.
    private bool IsQuiet => _quiet > 2 * _left.Length;

    /// <summary>Moves samples through a line of the look-ahead.</summary>
    /// <returns>The line's position after them.</returns>
    private int Delay(Span<float> samples, float[] line)
    {
        Span<float> late = stackalloc float[MostAtOnce];
        var position = _position;
        while (!samples.IsEmpty && line.Length > 1)
        {
            // The oldest sample is behind the position; the one at the position has gone out.
            var oldest = position + 1 == line.Length ? 0 : position + 1;
            var count = Math.Min(Math.Min(samples.Length, MostAtOnce), Math.Min(line.Length - position, line.Length - oldest));
            line.AsSpan(oldest, count).CopyTo(late);
            samples[..count].CopyTo(line.AsSpan(position));
            late[..count].CopyTo(samples);
            samples = samples[count..];
            position = position + count == line.Length ? 0 : position + count;
        }

        return position;
    }

    private float Usable(float sample)
    {
        if (float.IsFinite(sample))
        {
            return sample;
        }

        Interlocked.Increment(ref _unusable);
        return 0;
    }

    private long Advance(float peak)
    {
        if (_quiet > 2 * _left.Length)
        {
            _minimum.Clear();
            _quiet = 0;
        }

        var needed = peak <= _ceiling ? One : (long)(One * ((double)_ceiling / peak));
        var low = _minimum.Push(needed);
        var recovered = _held == One ? One : Math.Min(One, _held + 1 + ((One - _held) * _release >> FractionBits));
        _held = Math.Min(low, recovered);

        _firstSum += _held - _first[_average];
        _first[_average] = _held;
        var smooth = _firstSum == _whole ? One : Average(_firstSum);

        _secondSum += smooth - _second[_average];
        _second[_average] = smooth;
        _average = _average + 1 == _half ? 0 : _average + 1;
        var gain = _secondSum == _whole ? One : Average(_secondSum);

        _quiet = needed == One && _held == One && gain == One ? _quiet + 1 : 0;
        return gain;
    }

    // A division takes as long as the rest of a frame. The reciprocal, rounded up to 64 bits, gives the same number: a sum has fewer
    // than 42 bits, so the rounding error stays far below the next whole number.
    private long Average(long sum) => _half == 1 ? sum : unchecked((long)Math.BigMul((ulong)sum, _reciprocal, out _));

    /// <summary>The lowest of the last N values, at constant average cost: a sorted queue.</summary>
    private sealed class MinimumWindow(int length)
    {
        private readonly long[] _values = new long[length];
        private readonly long[] _times = new long[length];
        private int _head;
        private int _count;
        private long _time;

        public void Clear()
        {
            _head = 0;
            _count = 0;
            _time = 0;
        }

        public long Push(long value)
        {
            if (_count > 0 && _times[_head] <= _time - length)
            {
                _head = Wrap(_head + 1);
                _count--;
            }

            while (_count > 0 && _values[Wrap(_head + _count - 1)] >= value)
            {
                _count--;
            }

            var tail = Wrap(_head + _count);
            _values[tail] = value;
            _times[tail] = _time++;
            _count++;
            return _values[_head];
        }

        private int Wrap(int index) => index >= length ? index - length : index;
    }
}
