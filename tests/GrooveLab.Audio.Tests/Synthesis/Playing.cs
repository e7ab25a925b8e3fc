using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Helpers to create a synthesizer and to measure its output.</summary>
internal static class Playing
{
    public const int Rate = SoundFonts.TestBanks.Rate;

    /// <summary>A dry synthesizer with a gain that turns a constant at half of full scale, panned to the middle, into 1 on each side.</summary>
    public static SoundFontSynth Dry(SoundFontBank bank)
    {
        var synth = new SoundFontSynth(bank, Rate, new SoundFontSynthOptions { Dry = true, Gain = 2 * MathF.Sqrt(2) });
        synth.Control(0, 7, 127);
        return synth;
    }

    public static float[] Left(this SoundFontSynth synth, int frames) => synth.Both(frames).Left;

    public static (float[] Left, float[] Right) Both(this SoundFontSynth synth, int frames)
    {
        var left = new float[frames];
        var right = new float[frames];
        synth.Render(left, right);
        return (left, right);
    }

    public static int Frames(double seconds) => (int)Math.Round(seconds * Rate);

    public static double Decibels(double amplitude) => 20 * Math.Log10(amplitude);

    public static double Rms(ReadOnlySpan<float> signal)
    {
        var sum = 0.0;
        foreach (var value in signal)
            sum += (double)value * value;
        return Math.Sqrt(sum / signal.Length);
    }

    /// <summary>
    /// The frequency of a tone near an expected one in the middle of the signal, from its phase relative to the expected tone at two places,
    /// with a Hann window: first close together, so that no cycle is miscounted, then further apart.
    /// </summary>
    public static double Frequency(ReadOnlySpan<float> signal, double expected)
    {
        foreach (var step in new[] { signal.Length / 64, signal.Length / 16, signal.Length / 4 })
        {
            var window = signal.Length - step;
            var turn = Phase(signal.Slice(step, window), step, expected) - Phase(signal[..window], 0, expected);
            turn -= Math.Round(turn);
            expected += turn * Rate / step;
        }
        return expected;
    }

    /// <summary>Amplitude of the component at a frequency, with a Hann window.</summary>
    public static double Amplitude(ReadOnlySpan<float> signal, double frequency)
    {
        var (re, im) = Component(signal, 0, frequency);
        return 2 * Math.Sqrt((re * re) + (im * im));
    }

    public static double Cents(double measured, double expected) => 1200 * Math.Log2(measured / expected);

    private static double Phase(ReadOnlySpan<float> signal, int offset, double frequency)
    {
        var (re, im) = Component(signal, offset, frequency);
        return Math.Atan2(im, re) / (2 * Math.PI);
    }

    private static (double Re, double Im) Component(ReadOnlySpan<float> signal, int offset, double frequency)
    {
        double re = 0, im = 0, weight = 0;
        for (var i = 0; i < signal.Length; i++)
        {
            var hann = 0.5 - (0.5 * Math.Cos(2 * Math.PI * (i + 0.5) / signal.Length));
            var angle = 2 * Math.PI * frequency * (i + offset) / Rate;
            re += hann * signal[i] * Math.Cos(angle);
            im -= hann * signal[i] * Math.Sin(angle);
            weight += hann;
        }
        return (re / weight, im / weight);
    }
}
