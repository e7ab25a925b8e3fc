using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Weights of eight neighbouring sample points for 1,024 places between the middle two, a row for each place.
/// </summary>
internal sealed unsafe class WeightTable
{
    /// <summary>Points in a row.</summary>
    public const int Taps = 8;

    /// <summary>Points of a row before the one at the position.</summary>
    public const int Before = 3;

    /// <summary>Places between two points.</summary>
    public const int Phases = 1024;

    /// <summary>The right shift that turns a fraction of 32 bits into its place.</summary>
    public const int PhaseShift = 32 - 10;

    /// <summary>Half a place: added to a position, it makes the shift round to the nearest place.</summary>
    public const ulong Half = 1UL << (PhaseShift - 1);

    // Also converts a 16-bit sample point to a number between -1 and 1.
    private const double Scale = 1.0 / 32768;

    // The Kaiser window: side lobes near -80 dB, and as much of the highest octave as eight points can keep.
    private const double KaiserBeta = 7.0;

    private readonly float[] _weights = Pinned.Floats(Phases * Taps);

    private WeightTable()
    {
        Span<double> row = stackalloc double[Taps];
        for (var phase = 0; phase < Phases; phase++)
        {
            var sum = 0.0;
            for (var tap = 0; tap < Taps; tap++)
                sum += row[tap] = WindowedSinc((double)phase / Phases, tap - Before);
            // A constant must stay the same at every place.
            for (var tap = 0; tap < Taps; tap++)
                _weights[(phase * Taps) + tap] = (float)(row[tap] / sum * Scale);
        }
        Weights = Pinned.Address(_weights);
    }

    /// <summary>A sinc with a Kaiser window of eight points.</summary>
    public static WeightTable EightPoint { get; } = new();

    /// <summary>The first weight of the first row; always valid, because the table is never freed.</summary>
    public float* Weights { get; }

    /// <summary>The table for a kind of interpolation; null for the cubic, which computes its weights.</summary>
    public static WeightTable? For(Interpolation interpolation) => interpolation == Interpolation.EightPoint ? EightPoint : null;

    /// <summary>The row for a position that already includes <see cref="Half"/>.</summary>
    public ReadOnlySpan<float> Row(ulong position) => _weights.AsSpan(unchecked((int)((uint)position >> PhaseShift) * Taps), Taps);

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
