using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A stiff string as a sum of decaying partials.</summary>
/// <remarks>
/// Partial n has the frequency n f sqrt(1 + B n^2): a string that resists bending, hinged at both ends (Fletcher and Rossing, The Physics of
/// Musical Instruments; from memory). Each partial has two parts, of which the one across the bridge decays sooner.
/// </remarks>
internal sealed class StiffString
{
    // Below this level, relative to its start, a partial is not calculated further.
    private const double Silence = 3e-6;

    private readonly double[] _frequencies;
    private readonly double _rate;

    /// <param name="frequency">Frequency of the first partial in Hz.</param>
    /// <param name="stiffness">The inharmonicity B, 0 for a perfectly flexible string.</param>
    /// <param name="rate">Sample rate in Hz.</param>
    /// <param name="top">The highest frequency in Hz.</param>
    public StiffString(double frequency, double stiffness, double rate, double top)
    {
        _rate = rate;
        var frequencies = new List<double>();
        for (var n = 1; ; n++)
        {
            var partial = n * frequency * Math.Sqrt((1 + (stiffness * n * n)) / (1 + stiffness));
            if (partial >= top)
            {
                break;
            }

            frequencies.Add(partial);
        }

        _frequencies = [.. frequencies];
    }

    /// <summary>Frequencies of the partials in Hz, the first one first.</summary>
    public IReadOnlyList<double> Frequencies => _frequencies;

    /// <summary>Adds the string's sound to frames.</summary>
    /// <param name="frames">The frames, from the touch on.</param>
    /// <param name="amplitudes">Amplitude and phase of each partial at the touch.</param>
    /// <param name="losses">Decay times.</param>
    /// <param name="share">Factor on the whole sound.</param>
    public void AddTo(double[] frames, IReadOnlyList<Complex> amplitudes, StringLosses losses, double share)
    {
        var lanes = Vector<double>.Count;
        double[] first = new double[lanes], second = new double[lanes], turn = new double[lanes], fall = new double[lanes];
        for (var from = 0; from < _frequencies.Length; from += lanes)
        {
            var slowest = double.MaxValue;
            for (var lane = 0; lane < lanes; lane++)
            {
                if (from + lane >= _frequencies.Length)
                {
                    (first[lane], second[lane], turn[lane], fall[lane]) = (0, 0, 0, 0);
                    continue;
                }

                var frequency = _frequencies[from + lane];
                var nepers = losses.Rate(frequency, _frequencies[0]);
                var step = Complex.FromPolarCoordinates(Math.Exp(-nepers / _rate), 2 * Math.PI * frequency / _rate);
                var start = share * amplitudes[from + lane];
                slowest = Math.Min(slowest, nepers);

                // The two frames before the first, so that the recurrence gives the first.
                first[lane] = (start / step).Real;
                second[lane] = (start / (step * step)).Real;
                turn[lane] = 2 * step.Real;
                fall[lane] = (step * Complex.Conjugate(step)).Real;
            }

            var end = Math.Min(frames.Length, (int)(-Math.Log(Silence) / slowest * _rate));
            Vector<double> y1 = new(first), y2 = new(second), c1 = new(turn), c2 = new(fall);
            for (var i = 0; i < end; i++)
            {
                var y = (c1 * y1) - (c2 * y2);
                y2 = y1;
                y1 = y;
                frames[i] += Vector.Sum(y);
            }
        }
    }
}
