using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A slow random curve that repeats after a loop: a sum of sines at whole multiples of the loop's rate, root mean square 1.</summary>
internal sealed class SlowNoise
{
    private readonly double[] _curve;

    /// <param name="frames">Length of the loop in frames.</param>
    /// <param name="rate">Sample rate in Hz.</param>
    /// <param name="low">Lowest frequency in Hz; if the loop has no multiple between the two, its own rate is used.</param>
    /// <param name="high">Highest frequency in Hz.</param>
    /// <param name="chance">Gives phases and levels.</param>
    /// <param name="isSlope">Whether the curve's slope, in units a second, has the root mean square 1, and not the curve.</param>
    public SlowNoise(int frames, double rate, double low, double high, SeededNoise chance, bool isSlope)
    {
        _curve = new double[frames];
        var step = rate / frames;
        double square = 0;
        for (var bin = Math.Max(1, (int)Math.Ceiling(low / step)); square == 0 || bin * step <= high; bin++)
        {
            // Never quite zero, so that a curve of one sine is not flat.
            var level = 0.4 + Math.Abs(chance.Next());
            square += level * level / 2;
            var turn = Complex.FromPolarCoordinates(1, 2 * Math.PI * bin / frames);
            var value = Complex.FromPolarCoordinates(level / (isSlope ? 2 * Math.PI * bin * step : 1), Math.PI * chance.Next());
            for (var i = 0; i < frames; i++)
            {
                _curve[i] += value.Real;
                value = new((value.Real * turn.Real) - (value.Imaginary * turn.Imaginary), (value.Real * turn.Imaginary) + (value.Imaginary * turn.Real));
            }
        }

        for (var i = 0; i < frames; i++)
        {
            _curve[i] /= Math.Sqrt(square);
        }
    }

    /// <summary>The curve at a frame; frames before 0 and after the loop repeat it.</summary>
    public double At(int frame)
    {
        var at = frame % _curve.Length;
        return _curve[at < 0 ? at + _curve.Length : at];
    }
}
