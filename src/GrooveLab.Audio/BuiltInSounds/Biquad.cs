using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A second-order filter (transposed direct form II), designed by the bilinear transform.</summary>
internal struct Biquad
{
    private readonly double _b0, _b1, _b2, _a1, _a2;
    private double _z1, _z2;

    private Biquad(double b0, double b1, double b2, double a0, double a1, double a2)
    {
        _b0 = b0 / a0;
        _b1 = b1 / a0;
        _b2 = b2 / a0;
        _a1 = a1 / a0;
        _a2 = a2 / a0;
    }

    public static Biquad LowPass(double frequency, double q, double rate)
    {
        var (cos, alpha) = Warp(frequency, q, rate);
        return new((1 - cos) / 2, 1 - cos, (1 - cos) / 2, 1 + alpha, -2 * cos, 1 - alpha);
    }

    public static Biquad HighPass(double frequency, double q, double rate)
    {
        var (cos, alpha) = Warp(frequency, q, rate);
        return new((1 + cos) / 2, -1 - cos, (1 + cos) / 2, 1 + alpha, -2 * cos, 1 - alpha);
    }

    /// <summary>A resonance with gain 1 at its frequency.</summary>
    public static Biquad BandPass(double frequency, double q, double rate)
    {
        var (cos, alpha) = Warp(frequency, q, rate);
        return new(alpha, 0, -alpha, 1 + alpha, -2 * cos, 1 - alpha);
    }

    /// <summary>First stage of the K weighting of ITU-R BS.1770, re-derived from its analogue prototype for any rate.</summary>
    public static Biquad KShelf(double rate)
    {
        const double Gain = 1.584864701130855, Q = 0.7071752369554196;
        var k = Math.Tan(Math.PI * 1681.974450955533 / rate);
        var mid = Math.Pow(Gain, 0.4996667741545416);
        return new(Gain + (mid * k / Q) + (k * k), 2 * ((k * k) - Gain), Gain - (mid * k / Q) + (k * k),
            1 + (k / Q) + (k * k), 2 * ((k * k) - 1), 1 - (k / Q) + (k * k));
    }

    /// <summary>
    /// Second stage of the K weighting of ITU-R BS.1770. The standard's numerator at 48 kHz is 1, -2, 1, a gain of 1.005 high above the
    /// corner; here it is the same at any rate.
    /// </summary>
    public static Biquad KHighPass(double rate)
    {
        const double Frequency = 38.13547087602444, Q = 0.5003270373238773;
        var (cos48, alpha48) = Warp(Frequency, Q, 48_000);
        var gain = 2 * (1 + alpha48) / (1 + cos48);
        var (cos, alpha) = Warp(Frequency, Q, rate);
        return new(gain * (1 + cos) / 2, gain * (-1 - cos), gain * (1 + cos) / 2, 1 + alpha, -2 * cos, 1 - alpha);
    }

    public double Next(double x)
    {
        var y = (_b0 * x) + _z1;
        _z1 = (_b1 * x) - (_a1 * y) + _z2;
        _z2 = (_b2 * x) - (_a2 * y);
        return y;
    }

    /// <summary>Gain and phase at a frequency.</summary>
    public readonly Complex Response(double frequency, double rate)
    {
        var z = Complex.FromPolarCoordinates(1, -2 * Math.PI * frequency / rate);
        return (_b0 + (z * (_b1 + (z * _b2)))) / (1 + (z * (_a1 + (z * _a2))));
    }

    private static (double Cos, double Alpha) Warp(double frequency, double q, double rate)
    {
        var w = 2 * Math.PI * Math.Min(frequency, 0.47 * rate) / rate;
        return (Math.Cos(w), Math.Sin(w) / (2 * q));
    }
}
