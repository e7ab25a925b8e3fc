using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Weights of neighbouring sample points for 1,024 places between two of them: a row of weights for each place.
/// </summary>
internal sealed unsafe class WeightTable
{
    /// <summary>Places between two points.</summary>
    public const int Phases = 1024;

    /// <summary>How far a fraction of 32 bits is shifted to give its place.</summary>
    public const int PhaseShift = 32 - 10;

    /// <summary>Half a place; added to a position, it makes the shift round to the nearest.</summary>
    public const ulong Half = 1UL << (PhaseShift - 1);

    // A sample point of 16 bits becomes a number between -1 and 1 on the way.
    private const double Scale = 1.0 / 32768;

    // Kaiser's window: side lobes near -80 dB, and as much of the highest octave as eight points can keep.
    private const double KaiserBeta = 7.0;

    private readonly float[] _weights;

    private WeightTable(int taps, Func<double, int, double> weight)
    {
        Taps = taps;
        _weights = Pinned.Floats(Phases * taps);
        Span<double> row = stackalloc double[taps];
        for (var phase = 0; phase < Phases; phase++)
        {
            var sum = 0.0;
            for (var tap = 0; tap < taps; tap++)
                sum += row[tap] = weight((double)phase / Phases, tap - Before);
            // A constant must come through as itself at every place.
            for (var tap = 0; tap < taps; tap++)
                _weights[(phase * taps) + tap] = (float)(row[tap] / sum * Scale);
        }
        Weights = Pinned.Address(_weights);
    }

    /// <summary>
    /// A cubic that goes through the middle two of four points and has their central differences as slopes (Catmull and Rom 1974).
    /// </summary>
    public static WeightTable FourPoint { get; } = new(4, Cubic);

    /// <summary>A sinc under a Kaiser window eight points wide.</summary>
    public static WeightTable EightPoint { get; } = new(8, WindowedSinc);

    /// <summary>Points in a row.</summary>
    public int Taps { get; }

    /// <summary>Points of a row that lie before the place's own.</summary>
    public int Before => (Taps / 2) - 1;

    /// <summary>The first weight of the first row; good for ever, as the tables are never let go.</summary>
    public float* Weights { get; }

    /// <summary>The table for a kind of interpolation.</summary>
    public static WeightTable For(Interpolation interpolation) =>
        interpolation == Interpolation.EightPoint ? EightPoint : FourPoint;

    /// <summary>The row for a position to which <see cref="Half"/> has been added.</summary>
    public ReadOnlySpan<float> Row(ulong position) => _weights.AsSpan(unchecked((int)((uint)position >> PhaseShift) * Taps), Taps);

    private static double Cubic(double x, int point) => point switch
    {
        -1 => x * (-0.5 + (x * (1 - (0.5 * x)))),
        0 => 1 + (x * x * (-2.5 + (1.5 * x))),
        1 => x * (0.5 + (x * (2 - (1.5 * x)))),
        _ => x * x * (-0.5 + (0.5 * x)),
    };

    private static double WindowedSinc(double x, int point)
    {
        var distance = x - point;
        var sinc = distance == 0 ? 1 : Math.Sin(Math.PI * distance) / (Math.PI * distance);
        var inside = 1 - (distance * distance / 16);
        return inside <= 0 ? 0 : sinc * Bessel(KaiserBeta * Math.Sqrt(inside)) / Bessel(KaiserBeta);
    }

    /// <summary>The modified Bessel function of order 0, by its power series.</summary>
    private static double Bessel(double x)
    {
        var sum = 1.0;
        var term = 1.0;
        for (var k = 1; k < 40; k++)
        {
            term *= x * x / (4.0 * k * k);
            sum += term;
        }
        return sum;
    }
}
