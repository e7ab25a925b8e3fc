using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>
/// A vibrating string as a delay loop, after Karplus and Strong (1983) with the extensions of Jaffe and Smith (1983): fractional delay
/// by a first-order all-pass that is exact at the fundamental, and damping that grows with frequency.
/// </summary>
/// <remarks>
/// Losses rise above a corner to a plateau (a shelf) and again towards the top (a symmetric filter of three taps). The string has no
/// stiffness: both filters detune the partials by less than a cent, so they stay harmonic and a loop of whole periods is possible.
/// </remarks>
internal sealed class StringLoop
{
    private const double TopFrequency = 9000;

    private readonly double[] _delay;
    private readonly double _allPass;
    private readonly double _gain;
    private readonly double _shelf;
    private readonly double _corner;
    private readonly double _side;
    private int _at;
    private double _x1, _y1, _f1, _f2, _low;

    /// <param name="period">Frames in a period, usually not a whole number; at least 6.</param>
    /// <param name="rate">Sample rate in Hz.</param>
    /// <param name="losses">Decay times of the partials.</param>
    public StringLoop(double period, double rate, StringLosses losses)
    {
        var turn = 2 * Math.PI / period;
        var seconds = period / rate;
        var top = Math.Min(TopFrequency, 0.42 * rate);
        double upper = Math.Min(losses.Upper, losses.Fundamental), topmost = Math.Min(losses.Top, upper);

        _corner = 1 - Math.Exp(-2 * Math.PI * losses.Corner / rate);
        _shelf = 1 - Math.Exp(-(DecayRate(upper) - DecayRate(losses.Fundamental)) * seconds);
        var extra = 1 - Math.Exp(-(DecayRate(topmost) - DecayRate(upper)) * seconds);
        _side = Math.Clamp(extra / (2 * (1 - Math.Cos(2 * Math.PI * top / rate))), 0, 0.25);

        var z = Complex.FromPolarCoordinates(1, -turn);
        var shelf = 1 - (_shelf * (1 - (_corner / (1 - ((1 - _corner) * z)))));
        var taps = 1 - (2 * _side * (1 - Math.Cos(turn)));
        _gain = Math.Exp(-DecayRate(losses.Fundamental) * seconds) / (taps * shelf.Magnitude);

        var needed = period - 1 + (shelf.Phase / turn);
        var whole = (int)Math.Floor(needed - 0.5);
        var rest = needed - whole;
        _allPass = Math.Sin((1 - rest) * turn / 2) / Math.Sin((1 + rest) * turn / 2);
        _delay = new double[whole];
    }

    /// <summary>The decay rate in nepers a second for a 60 dB decay time in seconds.</summary>
    public static double DecayRate(double seconds) => 3 * Math.Log(10) / seconds;

    public double Next(double excitation)
    {
        var x = _delay[_at];
        var y = (_allPass * (x - _y1)) + _x1;
        _x1 = x;
        _y1 = y;
        var damped = _f1 + (_side * (y - (2 * _f1) + _f2));
        _f2 = _f1;
        _f1 = y;
        _low += _corner * (damped - _low);
        var output = excitation + (_gain * (damped - (_shelf * (damped - _low))));
        _delay[_at] = output;
        _at = _at + 1 == _delay.Length ? 0 : _at + 1;
        return output;
    }
}
