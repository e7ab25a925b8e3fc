using System.Numerics;

namespace GrooveLab.Testing.Sound;

/// <summary>A coarse spectrogram: levels in dB by time slice and third-octave band.</summary>
public static class BandLevels
{
    /// <summary>The sample rate, in Hz.</summary>
    public const int Rate = 48_000;

    /// <summary>Frames in a slice.</summary>
    public const int Size = 4096;

    private const double LowestHertz = 60;
    private const int BandsPerOctave = 3;

    /// <summary>Number of bands, from 60 Hz to 15 kHz.</summary>
    public const int Bands = 24;

    /// <summary>The levels, a row of <see cref="Bands"/> for each slice of 4,096 frames, with a Hann window.</summary>
    public static double[][] Of(ReadOnlySpan<float> sound)
    {
        var slices = new double[sound.Length / Size][];
        var spectrum = new Complex[Size];
        for (var slice = 0; slice < slices.Length; slice++)
        {
            for (var i = 0; i < Size; i++)
                spectrum[i] = sound[(slice * Size) + i] * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / Size)));
            Transform(spectrum);
            var powers = new double[Bands];
            for (var bin = 1; bin < Size / 2; bin++)
            {
                var band = (int)Math.Floor(BandsPerOctave * Math.Log2((double)bin * Rate / Size / LowestHertz));
                if (band is >= 0 and < Bands)
                    powers[band] += spectrum[bin].Magnitude * spectrum[bin].Magnitude / Size;
            }
            slices[slice] = [.. powers.Select(power => 10 * Math.Log10(power + 1e-12))];
        }
        return slices;
    }

    /// <summary>The Fourier transform in place (J. Cooley and J. Tukey 1965); the length must be a power of two.</summary>
    public static void Transform(Complex[] values)
    {
        for (int i = 1, j = 0; i < values.Length; i++)
        {
            var bit = values.Length >> 1;
            for (; (j & bit) != 0; bit >>= 1)
                j ^= bit;
            j ^= bit;
            if (i < j)
                (values[i], values[j]) = (values[j], values[i]);
        }
        for (var length = 2; length <= values.Length; length *= 2)
        {
            for (var k = 0; k < length / 2; k++)
            {
                var turn = Complex.FromPolarCoordinates(1, -2 * Math.PI * k / length);
                for (var start = k; start < values.Length; start += length)
                {
                    var odd = values[start + (length / 2)] * turn;
                    (values[start], values[start + (length / 2)]) = (values[start] + odd, values[start] - odd);
                }
            }
        }
    }
}
