namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>
/// A vibrating string as a loop of delay, after Karplus and Strong (1983) with the extensions of Jaffe and Smith (1983):
/// fractional delay by a first-order all-pass that is exact at the fundamental, and damping that grows with frequency.
/// </summary>
/// <remarks>Not stiff: the damping filter has linear phase, so the partials stay harmonic and a loop of whole periods is possible.</remarks>
internal sealed class StringLoop
{
    private readonly double[] _delay;
    private readonly double _allPass;
    private readonly double _gain;
    private readonly double _side;
    private int _at;
    private double _x1, _y1, _f1, _f2;

    /// <param name="period">Frames a period, not a whole number as a rule; 5 or more.</param>
    /// <param name="rate">Frames a second.</param>
    /// <param name="decay">Seconds in which the fundamental falls by 60 dB.</param>
    /// <param name="brightDecay">Seconds in which a partial at <paramref name="brightFrequency"/> does; shorter.</param>
    /// <param name="brightFrequency">In Hz, under half the rate.</param>
    public StringLoop(double period, double rate, double decay, double brightDecay, double brightFrequency)
    {
        double turn = 2 * Math.PI / period;
        double periodSeconds = period / rate;
        double bright = 2 * Math.PI * Math.Min(brightFrequency, 0.45 * rate) / rate;
        double extra = DecayRate(brightDecay) - DecayRate(decay);

        // Damping 1 - 2s(1 - cos w) is about 1 - s w^2: losses that grow as the square of frequency, one frame of delay exactly.
        _side = Math.Clamp((1 - Math.Exp(-extra * periodSeconds)) / (2 * (1 - Math.Cos(bright))), 0, 0.25);
        _gain = Math.Exp(-DecayRate(decay) * periodSeconds) / (1 - (2 * _side * (1 - Math.Cos(turn))));

        int whole = (int)Math.Floor(period - 1.5);
        double rest = period - 1 - whole;
        _allPass = Math.Sin((1 - rest) * turn / 2) / Math.Sin((1 + rest) * turn / 2);
        _delay = new double[whole];
    }

    /// <summary>Rate of decay, in nepers a second, for a fall of 60 dB in so many seconds.</summary>
    public static double DecayRate(double seconds) => 3 * Math.Log(10) / seconds;

    public double Next(double excitation)
    {
        double x = _delay[_at];
        double y = (_allPass * (x - _y1)) + _x1;
        _x1 = x;
        _y1 = y;
        double damped = _f1 + (_side * (y - (2 * _f1) + _f2));
        _f2 = _f1;
        _f1 = y;
        double output = excitation + (_gain * damped);
        _delay[_at] = output;
        _at = _at + 1 == _delay.Length ? 0 : _at + 1;
        return output;
    }
}
