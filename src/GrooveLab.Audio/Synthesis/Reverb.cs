using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A reverberator: four allpass diffusers, then sixteen delay lines that feed each other through a Hadamard matrix
/// (M. Schroeder 1962; J.-M. Jot and A. Chaigne 1991). Works on whole quanta; its output comes one quantum after its input.
/// </summary>
/// <remarks>
/// Every delay is longer than a quantum and the loop's damping is a symmetric filter of three points, so no step within a quantum
/// depends on another. Every loop over frames uses vectors; a processor without vectors of 256 bits handles them in halves.
/// </remarks>
internal sealed unsafe class Reverb
{
    private const int Lines = 16;
    private const int Step = 8;

    // The 60 dB decay time, and below the level of the output, as measured of the reverb that the makers of most banks heard.
    private const double DecaySeconds = 1.0;

    // The damping of high frequencies at each pass: weights b, 1-2b, b for three neighbours.
    private const float Damping = 0.008f;
    private const float Diffusion = 0.62f;

    // A tenth of a second after a burst of noise at a send of 100 %, the reverb is 4 dB below it on each side.
    private const float OutputGain = 0.88f;
    private const float Inaudible = 1e-8f;

    // Without common factors, a little denser at the short end, 22 to 83 ms.
    private static readonly double[] LineSeconds =
    [
        0.02231, 0.02473, 0.02719, 0.02963, 0.03229, 0.03511, 0.03803, 0.04133, 0.04463, 0.04831, 0.05233, 0.05683, 0.06211, 0.06797,
        0.07489, 0.08311,
    ];

    private static readonly double[] DiffuserSeconds = [0.00211, 0.00347, 0.00563, 0.00887];

    // Frames before this one are written again after the end of the line, so that no read has to wrap around.
    private const int Mirrored = 2 * Quantum.Frames;

    private readonly float[] _memory;
    private readonly float*[] _lines = new float*[Lines];
    private readonly int[] _lengths = new int[Lines];
    private readonly int[] _delays = new int[Lines];
    private readonly int[] _writes = new int[Lines];
    private readonly float[] _gains = new float[Lines];
    private readonly float*[] _diffusers = new float*[DiffuserSeconds.Length];
    private readonly int[] _diffuserLengths = new int[DiffuserSeconds.Length];
    private readonly int[] _diffuserDelays = new int[DiffuserSeconds.Length];
    private readonly int[] _diffuserWrites = new int[DiffuserSeconds.Length];
    private readonly float* _input;
    private readonly int _longestQuanta;
    private int _quietQuanta = int.MaxValue / 2;

    public Reverb(int sampleRate)
    {
        var size = Quantum.Frames;
        for (var i = 0; i < Lines; i++)
        {
            _delays[i] = Math.Max((int)Math.Round(LineSeconds[i] * sampleRate), Quantum.Frames + 2 + i);
            _gains[i] = (float)Math.Pow(10, -3 * _delays[i] / (DecaySeconds * sampleRate));
            // Whole quanta, so that a write never splits a quantum.
            _lengths[i] = DelayLength.WholeQuanta(_delays[i] + Quantum.Frames + 2);
            size += _lengths[i] + Mirrored;
        }
        for (var i = 0; i < DiffuserSeconds.Length; i++)
        {
            _diffuserDelays[i] = Math.Max((int)Math.Round(DiffuserSeconds[i] * sampleRate), Quantum.Frames + i);
            _diffuserLengths[i] = DelayLength.WholeQuanta(_diffuserDelays[i] + Quantum.Frames);
            size += _diffuserLengths[i] + Mirrored;
        }
        _memory = Pinned.Floats(size);
        var next = Pinned.Address(_memory);
        _input = next;
        next += Quantum.Frames;
        for (var i = 0; i < Lines; i++)
        {
            _lines[i] = next;
            next += _lengths[i] + Mirrored;
        }
        for (var i = 0; i < DiffuserSeconds.Length; i++)
        {
            _diffusers[i] = next;
            next += _diffuserLengths[i] + Mirrored;
        }
        _longestQuanta = (_delays[^1] / Quantum.Frames) + 2;
    }

    /// <summary>Adds the next quantum to the output.</summary>
    [MethodImpl(HotCode.Compiled)]
    public void Process(ReadOnlySpan<float> input, Span<float> left, Span<float> right)
    {
        if (!Blocks.AreZero(input))
            _quietQuanta = 0;
        // Once its contents are inaudible it is cleared and costs nothing.
        else if (_quietQuanta > _longestQuanta)
            return;

        input.CopyTo(new Span<float>(_input, Quantum.Frames));
        for (var i = 0; i < _diffusers.Length; i++)
            Diffuse(i);
        fixed (float* l = left, r = right)
        {
            _quietQuanta = Circulate(l, r) < Inaudible ? _quietQuanta + 1 : 0;
        }
        if (_quietQuanta > _longestQuanta)
            Array.Clear(_memory);
    }

    /// <summary>An allpass. Its delay is longer than a quantum, so the frames of a quantum do not depend on each other.</summary>
    [MethodImpl(HotCode.Compiled)]
    private void Diffuse(int index)
    {
        unchecked
        {
            var write = _diffuserWrites[index];
            var to = _diffusers[index] + write;
            var from = _diffusers[index] + Before(write, _diffuserDelays[index], _diffuserLengths[index]);
            for (var i = 0; i < Quantum.Frames; i += Step)
            {
                var late = Vector256.Load(from + i);
                var fed = Vector256.Load(_input + i) - (late * Diffusion);
                fed.Store(to + i);
                (late + (fed * Diffusion)).Store(_input + i);
            }
            _diffuserWrites[index] = Written(_diffusers[index], write, _diffuserLengths[index]);
        }
    }

    /// <summary>
    /// Reads all lines, adds them to the output, mixes them by the Hadamard matrix (rounds of sums and differences, two rounds at a time) and
    /// writes them back, eight frames at a time.
    /// </summary>
    /// <returns>The greatest value written.</returns>
    [MethodImpl(HotCode.Compiled)]
    private float Circulate(float* left, float* right)
    {
        unchecked
        {
            // A factor of 1/4 preserves the energy of the sums of sixteen lines.
            const float Unitary = 0.25f;
            var reads = stackalloc float*[Lines];
            var writes = stackalloc float*[Lines];
            var mixed = stackalloc float[Lines * Step];
            for (var line = 0; line < Lines; line++)
            {
                reads[line] = _lines[line] + Before(_writes[line], _delays[line] + 1, _lengths[line]);
                writes[line] = _lines[line] + _writes[line];
            }
            var peak = Vector256<float>.Zero;
            for (var i = 0; i < Quantum.Frames; i += Step)
            {
                var l = Vector256<float>.Zero;
                var r = Vector256<float>.Zero;
                for (var line = 0; line < Lines; line += 4)
                {
                    var a = Damped(reads[line] + i, _gains[line]);
                    var b = Damped(reads[line + 1] + i, _gains[line + 1]);
                    var c = Damped(reads[line + 2] + i, _gains[line + 2]);
                    var d = Damped(reads[line + 3] + i, _gains[line + 3]);
                    // The signs alternate in a different pattern on each side, so that the sides differ.
                    l += a - c;
                    r = (line & 4) == 0 ? r + (b + d) : r - (b + d);
                    MixFour(ref a, ref b, ref c, ref d);
                    a.Store(mixed + (line * Step));
                    b.Store(mixed + ((line + 1) * Step));
                    c.Store(mixed + ((line + 2) * Step));
                    d.Store(mixed + ((line + 3) * Step));
                }
                (Vector256.Load(left + i) + (l * OutputGain)).Store(left + i);
                (Vector256.Load(right + i) + (r * OutputGain)).Store(right + i);

                var fed = Vector256.Load(_input + i) * Unitary;
                for (var line = 0; line < 4; line++)
                {
                    var a = Vector256.Load(mixed + (line * Step));
                    var b = Vector256.Load(mixed + ((line + 4) * Step));
                    var c = Vector256.Load(mixed + ((line + 8) * Step));
                    var d = Vector256.Load(mixed + ((line + 12) * Step));
                    MixFour(ref a, ref b, ref c, ref d);
                    var signed = (line & 1) == 0 ? fed : -fed;
                    a = (a * Unitary) + signed;
                    b = (b * Unitary) + signed;
                    c = (c * Unitary) + signed;
                    d = (d * Unitary) + signed;
                    a.Store(writes[line] + i);
                    b.Store(writes[line + 4] + i);
                    c.Store(writes[line + 8] + i);
                    d.Store(writes[line + 12] + i);
                    peak = Vector256.Max(peak, Vector256.Max(
                        Vector256.Max(Vector256.Abs(a), Vector256.Abs(b)), Vector256.Max(Vector256.Abs(c), Vector256.Abs(d))));
                }
            }
            for (var line = 0; line < Lines; line++)
                _writes[line] = Written(_lines[line], _writes[line], _lengths[line]);
            var greatest = 0f;
            for (var i = 0; i < Vector256<float>.Count; i++)
                greatest = Math.Max(greatest, peak.GetElement(i));
            return greatest;
        }
    }

    /// <summary>Eight frames of a line, each damped by its neighbours; <paramref name="from"/> is the frame before the first.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector256<float> Damped(float* from, float gain)
    {
        unchecked
        {
            var neighbours = Vector256.Load(from) + Vector256.Load(from + 2);
            return (Vector256.Load(from + 1) * ((1 - (2 * Damping)) * gain)) + (neighbours * (Damping * gain));
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void MixFour(ref Vector256<float> a, ref Vector256<float> b, ref Vector256<float> c, ref Vector256<float> d)
    {
        var (sum, difference) = (a + b, a - b);
        var (otherSum, otherDifference) = (c + d, c - d);
        a = sum + otherSum;
        b = difference + otherDifference;
        c = sum - otherSum;
        d = difference - otherDifference;
    }

    /// <summary>The place a number of frames earlier in a circular line.</summary>
    private static int Before(int place, int frames, int length)
    {
        unchecked
        {
            place -= frames;
            return place < 0 ? place + length : place;
        }
    }

    /// <summary>Copies a quantum at the start of the line to the place after its end, for reads across the end.</summary>
    /// <returns>The place of the next quantum.</returns>
    private static int Written(float* line, int write, int length)
    {
        unchecked
        {
            if (write < Mirrored)
                new ReadOnlySpan<float>(line + write, Quantum.Frames).CopyTo(new Span<float>(line + length + write, Quantum.Frames));
            write += Quantum.Frames;
            return write == length ? 0 : write;
        }
    }
}
