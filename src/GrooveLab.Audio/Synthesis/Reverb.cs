using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A reverberator: four allpass diffusers, then sixteen delay lines that feed each other through a Hadamard matrix
/// (M. Schroeder 1962; J.-M. Jot and A. Chaigne 1991). Works on whole quanta; its output belongs to the quantum after its input.
/// </summary>
/// <remarks>
/// Every delay is longer than a quantum and the loop's damping is a symmetric filter of three points, so that no step within a
/// quantum depends on another: every loop over frames is done in vectors; where the processor has none of 256 bits, in halves.
/// </remarks>
internal sealed class Reverb
{
    private const int Lines = 16;
    private const uint Step = 8;

    // Time to fall by 60 dB in the middle of the spectrum.
    private const double DecaySeconds = 1.7;

    // What a pass takes off the highest frequencies: weights b, 1-2b, b of three neighbours.
    private const float Damping = 0.17f;
    private const float Diffusion = 0.62f;

    // Brings steady noise at a send of 100 % to its own level on each side.
    private const float OutputGain = 1.05f;
    private const float Inaudible = 1e-8f;

    // Incommensurable, a little denser at the short end, 22 to 83 ms.
    private static readonly double[] LineSeconds =
    [
        0.02231, 0.02473, 0.02719, 0.02963, 0.03229, 0.03511, 0.03803, 0.04133, 0.04463, 0.04831, 0.05233, 0.05683, 0.06211, 0.06797,
        0.07489, 0.08311,
    ];

    private static readonly double[] DiffuserSeconds = [0.00211, 0.00347, 0.00563, 0.00887];

    private readonly float[][] _lines = new float[Lines][];
    private readonly float[] _lineGains = new float[Lines];
    private readonly int[] _lineDelays = new int[Lines];
    private readonly float[][] _diffusers = new float[DiffuserSeconds.Length][];
    private readonly int[] _diffuserDelays = new int[DiffuserSeconds.Length];
    private readonly float[] _blocks = new float[Lines * Quantum.Frames];
    private readonly float[] _delayed = new float[Quantum.Frames + 2];
    private readonly float[] _input = new float[Quantum.Frames];
    private readonly int _longestQuanta;
    private long _frame;
    private int _quietQuanta = int.MaxValue / 2;

    public Reverb(int sampleRate)
    {
        for (var i = 0; i < Lines; i++)
        {
            _lineDelays[i] = Math.Max((int)Math.Round(LineSeconds[i] * sampleRate), Quantum.Frames + 2 + i);
            _lineGains[i] = (float)Math.Pow(10, -3 * _lineDelays[i] / (DecaySeconds * sampleRate));
            _lines[i] = new float[DelayLength.PowerOfTwo(_lineDelays[i] + Quantum.Frames + 2)];
        }
        for (var i = 0; i < _diffusers.Length; i++)
        {
            _diffuserDelays[i] = Math.Max((int)Math.Round(DiffuserSeconds[i] * sampleRate), Quantum.Frames + i);
            _diffusers[i] = new float[DelayLength.PowerOfTwo(_diffuserDelays[i] + Quantum.Frames)];
        }
        _longestQuanta = (_lineDelays[^1] / Quantum.Frames) + 2;
    }

    /// <summary>Adds the next quantum to the output.</summary>
    public void Process(ReadOnlySpan<float> input, Span<float> left, Span<float> right)
    {
        if (input.IndexOfAnyExcept(0f) >= 0)
            _quietQuanta = 0;
        // Once all that was in it is below hearing it is emptied and costs nothing more.
        else if (_quietQuanta > _longestQuanta)
            return;

        input.CopyTo(_input);
        for (var i = 0; i < _diffusers.Length; i++)
            Diffuse(_diffusers[i], _diffuserDelays[i]);
        for (var i = 0; i < Lines; i++)
            ReadLine(i);
        AddOutput(left, right);
        Mix();
        for (var i = 0; i < Lines; i++)
            WriteLine(i);
        _frame += Quantum.Frames;

        _quietQuanta = Peak() < Inaudible ? _quietQuanta + 1 : 0;
        if (_quietQuanta > _longestQuanta)
            Clear();
    }

    /// <summary>An allpass. Its delay is longer than a quantum, so that a quantum's frames do not depend on each other.</summary>
    private void Diffuse(float[] line, int delay)
    {
        unchecked
        {
            Copy(line, (int)_frame - delay, _delayed);
            ref var delayed = ref _delayed[0];
            ref var input = ref _input[0];
            for (nuint i = 0; i < Quantum.Frames; i += Step)
            {
                var late = Vector256.LoadUnsafe(ref delayed, i);
                var fed = Vector256.LoadUnsafe(ref input, i) - (late * Diffusion);
                fed.StoreUnsafe(ref input, i);
                (late + (fed * Diffusion)).StoreUnsafe(ref delayed, i);
            }
            Store(line, (int)_frame, _input);
            _delayed.AsSpan(0, Quantum.Frames).CopyTo(_input);
        }
    }

    private void ReadLine(int index)
    {
        unchecked
        {
            // One frame more on either side, for the neighbours.
            Copy(_lines[index], (int)_frame - _lineDelays[index] - 1, _delayed);
            var centre = Vector256.Create((1 - (2 * Damping)) * _lineGains[index]);
            var sides = Vector256.Create(Damping * _lineGains[index]);
            ref var delayed = ref _delayed[0];
            ref var block = ref _blocks[index * Quantum.Frames];
            for (nuint i = 0; i < Quantum.Frames; i += Step)
            {
                var neighbours = Vector256.LoadUnsafe(ref delayed, i) + Vector256.LoadUnsafe(ref delayed, i + 2);
                ((centre * Vector256.LoadUnsafe(ref delayed, i + 1)) + (sides * neighbours)).StoreUnsafe(ref block, i);
            }
        }
    }

    private void AddOutput(Span<float> left, Span<float> right)
    {
        unchecked
        {
            ref var block = ref _blocks[0];
            for (nuint i = 0; i < Quantum.Frames; i += Step)
            {
                var l = Vector256<float>.Zero;
                var r = Vector256<float>.Zero;
                for (var line = 0; line < Lines; line += 2)
                {
                    var even = Vector256.LoadUnsafe(ref block, (nuint)(line * Quantum.Frames) + i);
                    var odd = Vector256.LoadUnsafe(ref block, (nuint)((line + 1) * Quantum.Frames) + i);
                    // Signs alternate in a pattern of their own on each side, so that the sides are not alike.
                    l = (line & 2) == 0 ? l + even : l - even;
                    r = (line & 4) == 0 ? r + odd : r - odd;
                }
                (Vector256.LoadUnsafe(ref left[0], i) + (l * OutputGain)).StoreUnsafe(ref left[0], i);
                (Vector256.LoadUnsafe(ref right[0], i) + (r * OutputGain)).StoreUnsafe(ref right[0], i);
            }
        }
    }

    /// <summary>The Hadamard matrix as rounds of sums and differences, two rounds at a time.</summary>
    private void Mix()
    {
        unchecked
        {
            for (var span = 1; span < Lines; span *= 4)
            {
                for (var line = 0; line < Lines; line++)
                {
                    if ((line & (3 * span)) == 0)
                        MixFour(line * Quantum.Frames, span * Quantum.Frames);
                }
            }
        }
    }

    private void MixFour(int first, int span)
    {
        unchecked
        {
            ref var a = ref _blocks[first];
            ref var b = ref _blocks[first + span];
            ref var c = ref _blocks[first + (2 * span)];
            ref var d = ref _blocks[first + (3 * span)];
            for (nuint i = 0; i < Quantum.Frames; i += Step)
            {
                var (p, q) = (Vector256.LoadUnsafe(ref a, i), Vector256.LoadUnsafe(ref b, i));
                var (r, s) = (Vector256.LoadUnsafe(ref c, i), Vector256.LoadUnsafe(ref d, i));
                var (sum, difference) = (p + q, p - q);
                var (otherSum, otherDifference) = (r + s, r - s);
                (sum + otherSum).StoreUnsafe(ref a, i);
                (difference + otherDifference).StoreUnsafe(ref b, i);
                (sum - otherSum).StoreUnsafe(ref c, i);
                (difference - otherDifference).StoreUnsafe(ref d, i);
            }
        }
    }

    private void WriteLine(int index)
    {
        unchecked
        {
            // A quarter makes the sums of sixteen lines keep their energy.
            const float Unitary = 0.25f;
            ref var block = ref _blocks[index * Quantum.Frames];
            ref var input = ref _input[0];
            var sign = (index & 1) == 0 ? Unitary : -Unitary;
            for (nuint i = 0; i < Quantum.Frames; i += Step)
                ((Vector256.LoadUnsafe(ref block, i) * Unitary) + (Vector256.LoadUnsafe(ref input, i) * sign)).StoreUnsafe(ref block, i);
            Store(_lines[index], (int)_frame, _blocks.AsSpan(index * Quantum.Frames, Quantum.Frames));
        }
    }

    private float Peak()
    {
        unchecked
        {
            ref var block = ref _blocks[0];
            var peak = Vector256<float>.Zero;
            for (nuint i = 0; i < Lines * Quantum.Frames; i += Step)
                peak = Vector256.Max(peak, Vector256.Abs(Vector256.LoadUnsafe(ref block, i)));
            var greatest = 0f;
            for (var i = 0; i < Vector256<float>.Count; i++)
                greatest = Math.Max(greatest, peak.GetElement(i));
            return greatest;
        }
    }

    /// <summary>Copies as many frames as fit out of a line that runs round.</summary>
    private static void Copy(float[] line, int from, Span<float> to)
    {
        unchecked
        {
            from &= line.Length - 1;
            var first = Math.Min(to.Length, line.Length - from);
            line.AsSpan(from, first).CopyTo(to);
            line.AsSpan(0, to.Length - first).CopyTo(to[first..]);
        }
    }

    /// <summary>Copies a quantum into a line that runs round; quanta never straddle its ends.</summary>
    private static void Store(float[] line, int at, ReadOnlySpan<float> from) => from.CopyTo(line.AsSpan(at & (line.Length - 1)));

    private void Clear()
    {
        foreach (var line in _lines)
            Array.Clear(line);
        foreach (var line in _diffusers)
            Array.Clear(line);
    }
}
