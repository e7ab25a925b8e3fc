using System.Numerics;

namespace GrooveLab.Audio.Vorbis;

/// <summary>
/// The inverse modified discrete cosine transform of one block size: half a block of coefficients to a block of points, without a scale
/// factor (Vorbis I, section 4.3.7). One thread at a time.
/// </summary>
internal sealed class InverseTransform
{
    private readonly int _half;
    private readonly Complex32[] _before;
    private readonly Complex32[] _after;
    private readonly Complex32[] _roots;
    private readonly Complex32[] _work;
    private readonly int[] _order;
    private readonly float[] _cosines;

    /// <summary>A transform to blocks of a size, a power of two.</summary>
    public InverseTransform(int blockSize)
    {
        // A cosine transform of type IV of n points is a Fourier transform of n/2 complex ones between two turns.
        _half = blockSize / 2;
        var count = _half / 2;
        _before = [.. Enumerable.Range(0, count).Select(i => Complex32.Turn(-Math.PI * (i + 0.25) / _half))];
        _roots = [.. Enumerable.Range(0, count).Select(i => Complex32.Turn(-2 * Math.PI * i / count))];
        _after = [.. Enumerable.Range(0, count).Select(i => Complex32.Turn(-Math.PI * i / _half))];
        _work = new Complex32[count];
        _cosines = new float[_half];
        var bits = BitOperations.Log2((uint)count);
        _order = [.. Enumerable.Range(0, count).Select(i => Reversed(i, bits))];
    }

    /// <summary>Transforms.</summary>
    /// <param name="spectrum">Half a block of coefficients.</param>
    /// <param name="block">A block of points.</param>
    public void Transform(ReadOnlySpan<float> spectrum, Span<float> block)
    {
        unchecked
        {
            var count = _work.Length;
            for (var i = 0; i < count; i++)
                _work[_order[i]] = new Complex32(spectrum[2 * i], spectrum[_half - 1 - (2 * i)]) * _before[i];
            Fourier();
            for (var i = 0; i < count; i++)
            {
                var turned = _work[i] * _after[i];
                _cosines[2 * i] = turned.Real;
                _cosines[_half - 1 - (2 * i)] = -turned.Imaginary;
            }
            // The symmetries of the cosines beyond their first half unfold the block.
            var quarter = _half / 2;
            for (var i = 0; i < quarter; i++)
            {
                block[i] = _cosines[quarter + i];
                block[quarter + i] = -_cosines[_half - 1 - i];
                block[_half + i] = -_cosines[quarter - 1 - i];
                block[_half + quarter + i] = -_cosines[i];
            }
        }
    }

    private static int Reversed(int number, int bits)
    {
        var reversed = 0;
        for (var i = 0; i < bits; i++)
            reversed |= ((number >> i) & 1) << (bits - 1 - i);
        return reversed;
    }

    private void Fourier()
    {
        unchecked
        {
            var work = _work;
            for (var size = 1; size < work.Length; size *= 2)
            {
                var stride = work.Length / (2 * size);
                for (var start = 0; start < work.Length; start += 2 * size)
                {
                    for (var i = 0; i < size; i++)
                    {
                        var odd = work[start + size + i] * _roots[i * stride];
                        var even = work[start + i];
                        work[start + i] = even + odd;
                        work[start + size + i] = even - odd;
                    }
                }
            }
        }
    }

    /// <summary>A complex number of two 32-bit floats.</summary>
    private readonly record struct Complex32(float Real, float Imaginary)
    {
        public static Complex32 Turn(double angle) => new((float)Math.Cos(angle), (float)Math.Sin(angle));

        public static Complex32 operator +(Complex32 a, Complex32 b) => new(a.Real + b.Real, a.Imaginary + b.Imaginary);

        public static Complex32 operator -(Complex32 a, Complex32 b) => new(a.Real - b.Real, a.Imaginary - b.Imaginary);

        public static Complex32 operator *(Complex32 a, Complex32 b) =>
            new((a.Real * b.Real) - (a.Imaginary * b.Imaginary), (a.Real * b.Imaginary) + (a.Imaginary * b.Real));
    }
}
