namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A reverberator: four allpass diffusers, then sixteen delay lines that feed each other through a Hadamard matrix
/// (M. Schroeder 1962; J.-M. Jot and A. Chaigne 1991). Works on whole quanta; its output belongs to the quantum after its input.
/// </summary>
/// <remarks>
/// Every delay is longer than a quantum and the loop's damping is a symmetric filter of three points, so that no step within a
/// quantum depends on another: each loop over frames can be done in vectors.
/// </remarks>
internal sealed class Reverb
{
    private const int Lines = 16;

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
    private readonly float[][] _blocks = new float[Lines][];
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
            _blocks[i] = new float[Quantum.Frames];
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

    private void Diffuse(float[] line, int delay)
    {
        unchecked
        {
            var mask = line.Length - 1;
            var at = (int)_frame;
            for (var i = 0; i < Quantum.Frames; i++)
            {
                var delayed = line[(at + i - delay) & mask];
                var fed = _input[i] - (Diffusion * delayed);
                line[(at + i) & mask] = fed;
                _input[i] = delayed + (Diffusion * fed);
            }
        }
    }

    private void ReadLine(int index)
    {
        unchecked
        {
            var line = _lines[index];
            var block = _blocks[index];
            var mask = line.Length - 1;
            var at = (int)_frame - _lineDelays[index];
            var centre = (1 - (2 * Damping)) * _lineGains[index];
            var sides = Damping * _lineGains[index];
            for (var i = 0; i < Quantum.Frames; i++)
            {
                var neighbours = line[(at + i - 1) & mask] + line[(at + i + 1) & mask];
                block[i] = (centre * line[(at + i) & mask]) + (sides * neighbours);
            }
        }
    }

    private void AddOutput(Span<float> left, Span<float> right)
    {
        for (var line = 0; line < Lines; line += 2)
        {
            // Signs alternate in a pattern of their own on each side, so that the sides are not alike.
            var leftGain = (line & 2) == 0 ? OutputGain : -OutputGain;
            var rightGain = (line & 4) == 0 ? OutputGain : -OutputGain;
            for (var i = 0; i < Quantum.Frames; i++)
            {
                left[i] += leftGain * _blocks[line][i];
                right[i] += rightGain * _blocks[line + 1][i];
            }
        }
    }

    /// <summary>The Hadamard matrix as four rounds of sums and differences.</summary>
    private void Mix()
    {
        for (var span = 1; span < Lines; span *= 2)
        {
            for (var line = 0; line < Lines; line++)
            {
                if ((line & span) != 0)
                    continue;
                var a = _blocks[line];
                var b = _blocks[line + span];
                for (var i = 0; i < Quantum.Frames; i++)
                {
                    var sum = a[i] + b[i];
                    b[i] = a[i] - b[i];
                    a[i] = sum;
                }
            }
        }
    }

    private void WriteLine(int index)
    {
        unchecked
        {
            // A quarter makes the sums of sixteen lines keep their energy.
            const float Unitary = 0.25f;
            var line = _lines[index];
            var block = _blocks[index];
            var mask = line.Length - 1;
            var sign = (index & 1) == 0 ? Unitary : -Unitary;
            for (var i = 0; i < Quantum.Frames; i++)
                line[((int)_frame + i) & mask] = (Unitary * block[i]) + (sign * _input[i]);
        }
    }

    private float Peak()
    {
        var peak = 0f;
        foreach (var block in _blocks)
        {
            foreach (var value in block)
                peak = Math.Max(peak, Math.Abs(value));
        }
        return peak;
    }

    private void Clear()
    {
        foreach (var line in _lines)
            Array.Clear(line);
        foreach (var line in _diffusers)
            Array.Clear(line);
    }
}
