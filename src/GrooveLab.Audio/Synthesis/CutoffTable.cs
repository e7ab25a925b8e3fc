using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The tangents that a low-pass is made of, at one sample rate, eight cents apart and straight between: a moving filter asks for one in each
/// quantum, and working it out from powers and angles was a sixth of all that a voice cost. Off by less than a tenth of a cent below 0.4 of
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

    /// <summary>Works the table out.</summary>
    /// <param name="sampleRate">Frames a second.</param>
    public CutoffTable(int sampleRate)
    {
        var lowest = Cents(LowestCutoffHertz);
        _lowestCents = (float)lowest;
        _last = (float)(Cents(HighestCutoff * sampleRate) - lowest) * PlacesPerCent;
        // One more, which the last place looks at with a weight of next to nothing.
        _tangents = new float[(int)_last + 2];
        for (var i = 0; i < _tangents.Length; i++)
        {
            var cutoff = Math.Min(Units.Hertz(lowest + (i / (double)PlacesPerCent)), HighestCutoff * sampleRate);
            _tangents[i] = (float)Math.Tan(Math.PI * cutoff / sampleRate);
        }

        static double Cents(double hertz) => 6900 + (1200 * Math.Log2(hertz / 440));
    }

    /// <summary>The coefficients of a cutoff; one below 5 Hz or above 0.49 of the sample rate stands for that.</summary>
    /// <param name="cutoffCents">Cutoff in absolute cents.</param>
    /// <param name="inverseQuality">One over <see cref="LowPassCoefficients.Quality"/>.</param>
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
