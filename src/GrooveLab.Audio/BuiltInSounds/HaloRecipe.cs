using System.Numerics;
using GrooveLab.Music.Analysis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The undamped strings of an instrument that ring along with a note: those that share partials with it. Common practice, no source.</summary>
/// <remarks>
/// One loop of steady partials, each a few cents from the note's own, as strings that are never quite in tune; the volume envelope lets it swell
/// and fade.
/// </remarks>
internal sealed record HaloRecipe
{
    /// <summary>Semitones between samples; nobody hears a halo's timbre closely.</summary>
    public const int Step = 8;

    private const int Rate = 12_000;
    private const int LoopFrames = 8192;
    private const double Top = 4500;
    private const double Detune = 2;

    // Numerator and denominator of the intervals to strings that share partials with a note: octaves, twelfths, fifths and fourths either way.
    private static readonly (int Up, int Down)[] Strings = [(1, 4), (1, 3), (1, 2), (2, 3), (3, 4), (4, 3), (3, 2), (2, 1), (3, 1), (4, 1)];

    /// <summary>How much softer than the note it is, in dB.</summary>
    public required double Softer { get; init; }

    /// <summary>Seconds until it has swelled.</summary>
    public required double Swell { get; init; }

    /// <summary>60 dB decay time in seconds.</summary>
    public required double Decay { get; init; }

    /// <summary>60 dB decay time after the key goes up, in seconds; no damper touches these strings.</summary>
    public required double Release { get; init; }

    /// <summary>Makes the sample.</summary>
    /// <param name="key">MIDI key.</param>
    /// <param name="seed">Random seed of tuning and levels.</param>
    public RenderedSound Render(int key, ulong seed)
    {
        var tuning = LoopTuning.For(key, Rate, LoopFrames);
        var chance = new SeededNoise(seed);
        var spectrum = new Complex[LoopFrames];
        foreach (var (up, down) in Strings)
        {
            // The string's partials up, 2 up … of the interval down / up meet the note's partials up, 2 up ….
            for (var partial = up; partial * tuning.Frequency < Top; partial += up)
            {
                var frequency = partial * tuning.Frequency * Math.Pow(2, Detune * chance.Next() / 1200);
                var bin = (int)Math.Round(frequency * LoopFrames / tuning.SampleRate);
                spectrum[bin] += Complex.FromPolarCoordinates((1 + (0.5 * chance.Next())) / (partial * Math.Sqrt(down)), Math.PI * chance.Next());
            }
        }

        Fourier.Backward(spectrum);
        var frames = new double[LoopFrames + (2 * RenderedSound.Guard)];
        for (var i = 0; i < frames.Length; i++)
        {
            frames[i] = spectrum[i % LoopFrames].Real;
        }

        return new(frames, tuning.SampleRate, RenderedSound.Guard, RenderedSound.Guard + LoopFrames, Decay, tuning.Period);
    }
}
