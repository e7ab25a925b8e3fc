using System.Numerics;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>Measurements of a note, for the tests only; shares no code with the sounds.</summary>
internal static class Measure
{
    public static double Decibels(double ratio) => 20 * Math.Log10(Math.Max(ratio, 1e-10));

    public static double Cents(double frequency, double reference) => 1200 * Math.Log2(frequency / reference);

    public static double KeyFrequency(double key) => 440 * Math.Pow(2, (key - 69) / 12);

    public static double Rms(ReadOnlySpan<double> x)
    {
        double sum = 0;
        foreach (var v in x)
        {
            sum += v * v;
        }

        return Math.Sqrt(sum / Math.Max(1, x.Length));
    }

    /// <summary>Frequency of the partial near <paramref name="expected"/>, by the advance of its phase from one Hann window to a later one.</summary>
    public static double Frequency(ReadOnlySpan<double> x, double rate, double expected, double from, double window, double hop)
    {
        var found = expected;
        for (var round = 0; round < 3; round++)
        {
            Complex a = Partial(x, rate, found, from, window), b = Partial(x, rate, found, from + hop, window);
            var exactHop = ((int)((from + hop) * rate) - (int)(from * rate)) / rate;
            var advance = (b / a).Phase - Math.IEEERemainder(2 * Math.PI * found * exactHop, 2 * Math.PI);
            advance = Math.IEEERemainder(advance, 2 * Math.PI);
            found += advance / (2 * Math.PI * exactHop);
        }

        return found;
    }

    public static Complex Partial(ReadOnlySpan<double> x, double rate, double frequency, double from, double window)
    {
        int start = (int)(from * rate), n = (int)(window * rate);
        double real = 0, imaginary = 0, turn = -2 * Math.PI * frequency / rate;
        for (var i = 0; i < n && start + i < x.Length; i++)
        {
            var weighted = (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / n))) * x[start + i];
            var (sin, cos) = Math.SinCos(turn * i);
            real += weighted * cos;
            imaginary += weighted * sin;
        }

        return new Complex(real, imaginary) / n * 4;
    }

    /// <summary>Power by frequency, for bins of <c>rate / (2 * length)</c>.</summary>
    public static double[] PowerSpectrum(ReadOnlySpan<double> x)
    {
        var n = 1;
        while (n < x.Length)
        {
            n *= 2;
        }

        var data = new Complex[n];
        for (var i = 0; i < x.Length; i++)
        {
            // Keeps the onset and fades only the end.
            var fade = i < x.Length / 2 ? 1 : 0.5 + (0.5 * Math.Cos(Math.PI * (i - (x.Length / 2)) / (x.Length - (x.Length / 2))));
            data[i] = x[i] * fade;
        }

        Transform(data);
        var power = new double[n / 2];
        for (var i = 0; i < power.Length; i++)
        {
            power[i] = (data[i].Real * data[i].Real) + (data[i].Imaginary * data[i].Imaginary);
        }

        return power;
    }

    public static double Band(double[] power, double rate, double low, double high)
    {
        double bin = rate / 2 / power.Length, sum = 0;
        for (var i = (int)(low / bin); i < Math.Min(power.Length, (int)(high / bin)); i++)
        {
            sum += power[i];
        }

        return sum;
    }

    /// <summary>The spectral centroid of the power, in Hz.</summary>
    public static double Centroid(double[] power, double rate)
    {
        double bin = rate / 2 / power.Length, sum = 0, weighted = 0;
        for (var i = 1; i < power.Length; i++)
        {
            sum += power[i];
            weighted += i * bin * power[i];
        }

        return weighted / sum;
    }

    /// <summary>Seconds from the first frame until the level (over 2 ms or a period, whichever is longer) is within 3 dB of the greatest in the first half second.</summary>
    public static double Attack(ReadOnlySpan<double> x, double rate, double period)
    {
        int window = (int)(Math.Max(0.002, period) * rate), count = (Math.Min(x.Length, (int)(0.5 * rate)) - window) / 8;
        var level = new double[count];
        for (var i = 0; i < count; i++)
        {
            level[i] = Rms(x.Slice(8 * i, window));
        }

        var greatest = level.Max();
        return 8 * Array.FindIndex(level, v => v >= 0.708 * greatest) / rate;
    }

    /// <summary>60 dB decay time in seconds, from the line that fits the level between two times.</summary>
    public static double Decay(ReadOnlySpan<double> x, double rate, double from, double to)
    {
        const double Window = 0.05;
        double n = 0, st = 0, sl = 0, stt = 0, stl = 0;
        for (var t = from; t + Window < to; t += Window / 2)
        {
            var level = Decibels(Rms(x.Slice((int)(t * rate), (int)(Window * rate))));
            n++;
            st += t;
            sl += level;
            stt += t * t;
            stl += t * level;
        }

        return -60 / (((n * stl) - (st * sl)) / ((n * stt) - (st * st)));
    }

    /// <summary>
    /// Greatest K-weighted level (ITU-R BS.1770-4, annex 1, the printed coefficients for 48 kHz) over any 200 ms, in dB; shorter for clicks.
    /// </summary>
    public static double Loudness(ReadOnlySpan<double> x, double stretch = 0.2)
    {
        double a1 = -1.69065929318241, a2 = 0.73248077421585, b0 = 1.53512485958697, b1 = -2.69169618940638, b2 = 1.19839281085285;
        double c1 = -1.99004745483398, c2 = 0.99007225036621;
        double u1 = 0, u2 = 0, v1 = 0, v2 = 0, sum = 0, greatest = 0;
        var window = (int)(stretch * 48000);
        var squares = new double[x.Length];
        for (var i = 0; i < x.Length; i++)
        {
            double u = x[i] - (a1 * u1) - (a2 * u2), s = (b0 * u) + (b1 * u1) + (b2 * u2);
            u2 = u1;
            u1 = u;
            double v = s - (c1 * v1) - (c2 * v2), k = v - (2 * v1) + v2;
            v2 = v1;
            v1 = v;
            squares[i] = k * k;
            sum += squares[i] - (i >= window ? squares[i - window] : 0);
            greatest = Math.Max(greatest, sum);
        }

        return 10 * Math.Log10(Math.Max(greatest / window, 1e-12));
    }

    private static void Transform(Complex[] data)
    {
        var roots = new Complex[Math.Max(1, data.Length / 2)];
        for (var i = 0; i < roots.Length; i++)
        {
            roots[i] = Complex.FromPolarCoordinates(1, -2 * Math.PI * i / data.Length);
        }

        // Stockham's form without bit-reversed reordering, so it has nothing in common with the transform under test.
        Complex[] from = data, to = new Complex[data.Length];
        for (int blocks = data.Length / 2, width = 1; blocks >= 1; blocks /= 2, width *= 2)
        {
            for (var j = 0; j < blocks; j++)
            {
                var turn = roots[j * width];
                for (var k = 0; k < width; k++)
                {
                    Complex a = from[(j * width) + k], b = from[((j + blocks) * width) + k];
                    to[(2 * j * width) + k] = a + b;
                    var d = a - b;
                    to[(((2 * j) + 1) * width) + k] = new Complex(
                        (d.Real * turn.Real) - (d.Imaginary * turn.Imaginary), (d.Real * turn.Imaginary) + (d.Imaginary * turn.Real));
                }
            }

            (from, to) = (to, from);
        }

        if (from != data)
        {
            from.CopyTo(data, 0);
        }
    }
}
