using System.Numerics;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The mix of the demo with the built-in sounds. All goals are common practice, no source, unless one is named.</summary>
public sealed class DemoMixTests
{
    private const int Rate = 48_000;
    private const int Window = 8192;

    private static readonly BarComposer Demo = new(DemoCommand.Chart(), new ComposerOptions { CountIn = false });

    // The whole song: verses are thinner than refrains.
    private static readonly int Bars = Demo.End ?? throw new InvalidOperationException("The demo has an end.");

    [Fact]
    public void Mix_Spectrum_HasWeightAndBrightness()
    {
        var spectra = Spectra(Play(_ => true)).ToList();
        double[] sum = [.. Enumerable.Range(0, Window / 2).Select(bin => spectra.Sum(spectrum => spectrum[bin]))];
        var middle = Octave(500);

        Assert.True(Octave(8000) - middle >= -24, $"8 kHz: {Octave(8000) - middle:F1} dB");
        Assert.True(Octave(63) - middle >= -5, $"63 Hz: {Octave(63) - middle:F1} dB");

        double Octave(double centre) => Level(sum, centre / Math.Sqrt(2), centre * Math.Sqrt(2));
    }

    [Fact]
    public void Tune_InItsOwnRange_StandsFourDecibelsAboveTheBand()
    {
        // From its lowest note to the second partial of its highest.
        int[] keys = [.. Enumerable.Range(0, Bars).SelectMany(bar => Demo.BarAt(bar).Notes).Where(note => note.Role == Role.Tune).Select(note => note.Key)];
        double low = Frequency(keys.Min() - 0.5), high = 2 * Frequency(keys.Max() + 0.5);
        double[] tune = [.. Spectra(Play(part => part.Role == Role.Tune)).Select(spectrum => Level(spectrum, low, high))];
        double[] band = [.. Spectra(Play(part => part.Role is not (Role.Tune or Role.Count))).Select(spectrum => Level(spectrum, low, high))];

        // Where the tune rests, it need not stand out.
        var loud = tune.Order().ElementAt(tune.Length * 19 / 20);
        double[] above = [.. tune.Zip(band).Where(pair => pair.First > loud - 15).Select(pair => pair.First - pair.Second).Order()];

        Assert.True(above.Length > 50);
        Assert.True(above[above.Length / 2] >= 4, $"median {above[above.Length / 2]:F1} dB");
        Assert.True(above[above.Length / 10] >= 2, $"tenth percentile {above[above.Length / 10]:F1} dB");

        static double Frequency(double key) => 440 * Math.Pow(2, (key - 69) / 12);
    }

    [Fact]
    public void Mix_Loudness_IsBetweenMinus18AndMinus16WithHeadroom()
    {
        var sound = Play(_ => true);
        Assert.InRange(StemMeasures.Loudness(sound, EngineOptions.DefaultPreRollSeconds, sound.Seconds - EngineOptions.DefaultTailSeconds), -18, -16);
        Assert.InRange(20 * Math.Log10(Math.Max(TruePeak(sound.Left), TruePeak(sound.Right))), -12, -1);
    }

    private static StemSound Play(Func<PartChannels, bool> plays) => StemSound.Render(
        new BarRoute(Demo, 0, Bars),
        Banks.Synth(Banks.Open(null), Rate, Demo.Band, dry: false),
        new EngineOptions { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels },
        plays,
        limited: true,
        TestContext.Current.CancellationToken);

    // Power by bin of one window after another, both channels together.
    private static IEnumerable<double[]> Spectra(StemSound sound)
    {
        var spectra = new List<double[]>();
        for (var from = 0; from + Window <= sound.Frames; from += Window)
        {
            var power = new double[Window / 2];
            foreach (var side in new[] { 0, 1 })
            {
                var samples = side == 0 ? sound.Left : sound.Right;
                var data = new Complex[Window];
                for (var i = 0; i < Window; i++)
                {
                    data[i] = samples[from + i] * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / Window)));
                }

                Fourier.Forward(data);
                for (var i = 0; i < power.Length; i++)
                {
                    power[i] += (data[i].Real * data[i].Real) + (data[i].Imaginary * data[i].Imaginary);
                }
            }

            spectra.Add(power);
        }

        return spectra;
    }

    private static double Level(double[] power, double low, double high)
    {
        double bin = (double)Rate / Window, sum = 1e-12;
        for (var i = (int)Math.Ceiling(low / bin); i * bin < high; i++)
        {
            sum += power[i];
        }

        return 10 * Math.Log10(sum);
    }

    // Four times oversampled by a windowed sinc, as ITU-R BS.1770-4, annex 2, asks for at least.
    private static double TruePeak(ReadOnlySpan<float> samples)
    {
        const int Reach = 12;
        double peak = 0;
        for (var part = 0; part < 4; part++)
        {
            var taps = new double[2 * Reach];
            for (var t = 0; t < taps.Length; t++)
            {
                var x = t - Reach + 1 - (part / 4.0);
                taps[t] = (x == 0 ? 1 : Math.Sin(Math.PI * x) / (Math.PI * x)) * (0.5 + (0.5 * Math.Cos(Math.PI * x / (Reach + 1))));
            }

            for (var i = Reach; i + Reach < samples.Length; i++)
            {
                double sum = 0;
                for (var t = 0; t < taps.Length; t++)
                {
                    sum += taps[t] * samples[i + t - Reach + 1];
                }

                peak = Math.Max(peak, Math.Abs(sum));
            }
        }

        return peak;
    }
}
