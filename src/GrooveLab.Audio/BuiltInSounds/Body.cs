using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One resonance of a body.</summary>
/// <param name="Frequency">Frequency in Hz.</param>
/// <param name="Q">Quality factor.</param>
/// <param name="Gain">Gain at its frequency, relative to a direct sound of 1.</param>
internal readonly record struct Resonance(double Frequency, double Q, double Gain);

/// <summary>The body of a string or reed instrument: the direct sound and four to six resonances in parallel.</summary>
internal struct Body
{
    private readonly double _direct;
    private readonly double[] _gains;
    private readonly Biquad[] _filters;

    public Body(double direct, IReadOnlyList<Resonance> resonances, double rate)
    {
        _direct = direct;
        _gains = [.. resonances.Select(r => r.Gain)];
        _filters = [.. resonances.Select(r => Biquad.BandPass(r.Frequency, r.Q, rate))];
    }

    public readonly double Next(double x)
    {
        var y = _direct * x;
        for (var i = 0; i < _filters.Length; i++)
        {
            y += _gains[i] * _filters[i].Next(x);
        }

        return y;
    }

    public readonly Complex Response(double frequency, double rate)
    {
        Complex sum = _direct;
        for (var i = 0; i < _filters.Length; i++)
        {
            sum += _gains[i] * _filters[i].Response(frequency, rate);
        }

        return sum;
    }
}
