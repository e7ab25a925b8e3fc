using System.Numerics;

namespace GrooveLab.Music.Analysis;

/// <summary>The discrete Fourier transform, in place, for lengths that are a power of two.</summary>
public static class Fourier
{
    /// <summary>The transform.</summary>
    public static void Forward(Span<Complex> data) => Transform(data, -1);

    /// <summary>The inverse transform without the factor 1/n.</summary>
    public static void Backward(Span<Complex> data) => Transform(data, 1);

    private static void Transform(Span<Complex> data, int sign)
    {
        var n = data.Length;
        for (int i = 1, j = 0; i < n; i++)
        {
            var bit = n >> 1;
            for (; (j & bit) != 0; bit >>= 1)
            {
                j ^= bit;
            }

            j ^= bit;
            if (i < j)
            {
                (data[i], data[j]) = (data[j], data[i]);
            }
        }

        var roots = new Complex[n / 2];
        for (var i = 0; i < roots.Length; i++)
        {
            roots[i] = Complex.FromPolarCoordinates(1, sign * 2 * Math.PI * i / n);
        }

        for (var half = 1; half < n; half *= 2)
        {
            var stride = n / (2 * half);
            for (var start = 0; start < n; start += 2 * half)
            {
                for (var k = 0; k < half; k++)
                {
                    var a = data[start + k];
                    Complex r = roots[k * stride], c = data[start + k + half];
                    // Complex multiplication by hand: the operator also checks for infinities, which takes twice the time.
                    var b = new Complex((r.Real * c.Real) - (r.Imaginary * c.Imaginary), (r.Real * c.Imaginary) + (r.Imaginary * c.Real));
                    data[start + k] = a + b;
                    data[start + k + half] = a - b;
                }
            }
        }
    }
}
