using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The tangents for a low-pass at one sample rate, every eight cents, with linear interpolation. A moving filter needs one in each
/// quantum, and computing it from powers and angles took a sixth of a voice's time. The error is less than a tenth of a cent below 0.4 of
/// the sample rate.
/// </summary>
internal sealed class CutoffTable
{
    private const float PlacesPerCent = 1f / 8;
    private const double HighestCutoff = 0.49;
    private const double LowestCutoffHertz = 5;

    private readonly float[] _tangents;
    private readonly float _lowestCents;
    private readonly float _last;

    /// <summary>Computes the table.</summary>
    /// <param name="sampleRate">Sample rate in Hz.</param>
    public CutoffTable(int sampleRate)
    {
        var lowest = Cents(LowestCutoffHertz);
        _lowestCents = (float)lowest;
        _last = (float)(Cents(HighestCutoff * sampleRate) - lowest) * PlacesPerCent;
        // One more entry, which the last place reads with a weight near zero.
        _tangents = new float[(int)_last + 2];
        for (var i = 0; i < _tangents.Length; i++)
        {
            var cutoff = Math.Min(Units.Hertz(lowest + (i / (double)PlacesPerCent)), HighestCutoff * sampleRate);
            _tangents[i] = (float)Math.Tan(Math.PI * cutoff / sampleRate);
        }

        static double Cents(double hertz) => 6900 + (1200 * Math.Log2(hertz / 440));
    }

    /// <summary>The coefficients of a cutoff, which is clamped to 5 Hz and to 0.49 of the sample rate.</summary>
    /// <param name="cutoffCents">Cutoff in absolute cents.</param>
    /// <param name="inverseQuality">1 / <see cref="LowPassCoefficients.Quality"/>.</param>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public LowPassCoefficients At(float cutoffCents, float inverseQuality)
    {
        unchecked
        {
            var place = Math.Min(Math.Max((cutoffCents - _lowestCents) * PlacesPerCent, 0), _last);
            var whole = (int)place;
            ref var tangent = ref Unsafe.Add(ref MemoryMarshal.GetArrayDataReference(_tangents), whole);
            var g = tangent + ((Unsafe.Add(ref tangent, 1) - tangent) * (place - whole));
            var a1 = 1 / (1 + (g * (g + inverseQuality)));
            var a2 = g * a1;
            return new LowPassCoefficients(a1, a2, g * a2);
        }
    }
}
