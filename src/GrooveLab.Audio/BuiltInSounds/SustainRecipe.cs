using System.Numerics;
using GrooveLab.Music.Analysis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A bowed string, a reed or a flute: a periodic wave through formants, with noise, looped without a seam.</summary>
/// <remarks>
/// The loop is made in the frequency domain: each partial has a whole number of cycles in it, with faint neighbours that make it waver as
/// if played by hand; the noise has a random phase in every bin. Everything repeats exactly after the loop's length.
/// </remarks>
internal sealed record SustainRecipe
{
    /// <summary>Amplitude of partial <c>k</c> before the formants, at a given fundamental in Hz; band-limited by construction.</summary>
    public required Func<int, double, int, double> Partial { get; init; }

    /// <summary>Level of the sound that bypasses the formants.</summary>
    public double Direct { get; init; } = 1;

    /// <summary>Four to six formants.</summary>
    public required IReadOnlyList<Resonance> Body { get; init; }

    /// <summary>Highest frequency of the partials in Hz, whatever the sample rate.</summary>
    public double Top { get; init; } = 11000;

    /// <summary>Frames of the loop, a power of two.</summary>
    public required int LoopFrames { get; init; }

    /// <summary>The sample rate to stay close to, in Hz.</summary>
    public required int Rate { get; init; }

    /// <summary>How much the first partial wavers, as an amplitude ratio; higher ones waver more.</summary>
    public required double Waver { get; init; }

    /// <summary>Share of the noise that follows the period of the wave (the slip of the string, the beat of the reed), 0-1.</summary>
    public double NoiseInRhythm { get; init; }

    /// <summary>Lower and upper Hz of the noise.</summary>
    public (double Low, double High) NoiseBand { get; init; } = (300, 7000);

    /// <summary>Whether partials start at random phases; two reeds with equal phases would sound like one swept through a comb filter.</summary>
    public bool Scrambled { get; init; }

    /// <summary>Soft, middle, hard.</summary>
    public required IReadOnlyList<SustainLayer> Layers { get; init; }

    /// <summary>Makes the sample.</summary>
    /// <param name="key">MIDI key.</param>
    /// <param name="layer">Index in <see cref="Layers"/>.</param>
    /// <param name="seed">Random seed of noise and wavering.</param>
    public RenderedSound Render(int key, int layer, ulong seed)
    {
        var drive = Layers[layer];
        var tuning = LoopTuning.For(key, Rate, LoopFrames);
        double rate = tuning.SampleRate;
        var loop = MakeLoop(tuning, layer, drive, seed);

        var onset = (int)(drive.Onset * rate);
        var before = 2 * onset;
        var frames = new double[before + loop.Length + RenderedSound.Guard];

        // The phase counts from the onset, whatever its length, because a second reed must meet each layer at the same phase.
        for (var i = 0; i < frames.Length; i++)
        {
            frames[i] = loop[i % loop.Length];
        }

        Begin(frames, before, onset, rate, tuning.Frequency, drive, seed + 77);
        return new(frames, tuning.SampleRate, before, before + loop.Length, 0, tuning.Period);
    }

    private double[] MakeLoop(LoopTuning tuning, int layer, SustainLayer drive, ulong seed)
    {
        var n = tuning.Frames;
        double rate = tuning.SampleRate, frequency = tuning.Frequency, bin = rate / n;
        var random = new SeededNoise(seed);
        var body = new Body(Direct, Body, rate);
        var tone = new Complex[n];
        var top = Math.Min(Top, 0.42 * rate);
        for (var k = 1; k * frequency < top; k++)
        {
            var f = k * frequency;
            var value = Partial(k, frequency, layer) * Softened(f, drive.Brightness) * Edge(f, top)
                * body.Response(f, rate) * -Complex.ImaginaryOne;
            if (Scrambled && k > 1)
            {
                value *= Complex.FromPolarCoordinates(1, Math.PI * random.Next());
            }

            var at = k * tuning.Periods;
            tone[at] += value;
            var waver = Waver * (1 + (0.5 * Math.Min(k - 1, 8)));
            for (var side = 1; side <= 2; side++)
            {
                // The partial wavers at 3 Hz or 6 Hz; slower is impossible in such a short loop, faster sounds rough.
                if (side * bin > 14)
                {
                    break;
                }

                tone[at - side] += value * Complex.FromPolarCoordinates(waver * Math.Abs(random.Next()) / side, Math.PI * random.Next());
                tone[at + side] += value * Complex.FromPolarCoordinates(waver * Math.Abs(random.Next()) / side, Math.PI * random.Next());
            }
        }

        var noise = new Complex[n];
        for (var i = 1; i < n / 2; i++)
        {
            var f = i * bin;
            var shape = f * f / ((f * f) + (NoiseBand.Low * NoiseBand.Low)) / (1 + Math.Pow(f / NoiseBand.High, 4));
            noise[i] = body.Response(f, rate) * Complex.FromPolarCoordinates(shape * Softened(f, 2 * drive.Brightness) * Edge(f, top), Math.PI * random.Next());
        }

        Fourier.Backward(tone);
        Fourier.Backward(noise);
        var result = new double[n];
        double toneSquare = 0, noiseSquare = 0;
        for (var i = 0; i < n; i++)
        {
            toneSquare += tone[i].Real * tone[i].Real;
            var phase = i / tuning.Period;
            phase -= Math.Floor(phase);
            var rhythm = 1 - NoiseInRhythm + (NoiseInRhythm * 3 * Math.Exp(-6 * phase));
            result[i] = rhythm * noise[i].Real;
            noiseSquare += result[i] * result[i];
        }

        var ratio = drive.Noise * Math.Sqrt(toneSquare / noiseSquare);
        var scale = 1 / Math.Sqrt(toneSquare / n);
        for (var i = 0; i < n; i++)
        {
            result[i] = scale * (tone[i].Real + (ratio * result[i]));
        }

        return result;
    }

    private void Begin(double[] frames, int before, int onset, double rate, double frequency, SustainLayer drive, ulong seed)
    {
        var random = new SeededNoise(seed);
        var band = Biquad.BandPass(Math.Clamp(3 * frequency, 1200, 3500), 0.6, rate);
        var body = new Body(Direct, Body, rate);
        double low1 = 0, low2 = 0;
        for (var i = 0; i < before; i++)
        {
            // The tone brightens from its fundamental upward as it starts.
            var open = (double)i / before;
            var cutoff = frequency * 3 * Math.Pow(Math.Max(1, 0.45 * rate / (frequency * 3)), open);
            var step = 1 - Math.Exp(-2 * Math.PI * cutoff / rate);
            low1 += step * (frames[i] - low1);
            low2 += step * (low1 - low2);
            var rise = i < onset ? 0.5 - (0.5 * Math.Cos(Math.PI * i / onset)) : 1;
            var blend = open * open;
            var scratch = i < onset ? Math.Sin(Math.PI * i / onset) * drive.OnsetNoise : 0;
            frames[i] = (rise * ((blend * frames[i]) + ((1 - blend) * low2))) + (scratch * body.Next(band.Next(random.Next())));
        }
    }

    private static double Softened(double frequency, double brightness)
    {
        var r = frequency / brightness;
        return 1 / (1 + (r * r));
    }

    // The top fifth fades out, so that no partial appears or disappears with a step from one sample to the next.
    private static double Edge(double frequency, double top) => Math.Clamp((top - frequency) / (0.2 * top), 0, 1);
}
