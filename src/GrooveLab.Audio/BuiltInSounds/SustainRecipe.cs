using System.Numerics;
using GrooveLab.Music.Analysis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A bowed string, a reed or a flute: a periodic wave through formants, with noise, looped without a seam.</summary>
/// <remarks>
/// The wave is a sum of partials whose common phase jitters as a hand or reed does, whose levels waver in four groups, and to which noise with a
/// random phase in every bin is added. All of it repeats exactly after the loop's length. The onset runs into the loop: the same sum, with an
/// unsettled phase.
/// </remarks>
internal sealed record SustainRecipe
{
    // The band of the jitter in Hz: slower is heard as intonation, faster as roughness. Common practice, no source.
    private const double SlowestJitter = 4;
    private const double FastestJitter = 30;
    private const double FastestWaver = 12;

    // The first partials of the groups that waver together.
    private static readonly int[] GroupStarts = [1, 2, 4, 9];

    /// <summary>Amplitude of partial <c>k</c> before the formants, at a given fundamental in Hz; band-limited by construction.</summary>
    public required Func<int, double, int, double> Partial { get; init; }

    /// <summary>Level of a second reed, an octave higher and exactly in tune, so that the two never beat; 0 for none.</summary>
    public double OctaveShare { get; init; }

    /// <summary>Level of the sound that bypasses the formants.</summary>
    public double Direct { get; init; } = 1;

    /// <summary>Four to six formants.</summary>
    public required IReadOnlyList<Resonance> Body { get; init; }

    /// <summary>Highest frequency of the partials in Hz, whatever the sample rate.</summary>
    public double Top { get; init; } = 11000;

    /// <summary>How much the first partial wavers, as an amplitude ratio; higher ones waver more.</summary>
    public required double Waver { get; init; }

    /// <summary>How far each sample's upper partials stray from <see cref="Partial"/>, as an amplitude ratio.</summary>
    public double Unevenness { get; init; } = 0.1;

    /// <summary>Pitch jitter as a standard deviation in cents.</summary>
    public double JitterCents { get; init; }

    /// <summary>
    /// How far the phase strays at the very start, in periods: under a new bow the string sticks and slips irregularly until each slip waits for
    /// the corner that travels round the string.
    /// </summary>
    public double UnsettledPeriods { get; init; }

    /// <summary>Share of the noise that follows the period of the wave (the slip of the string, the beat of the reed), 0-1.</summary>
    public double NoiseInRhythm { get; init; }

    /// <summary>Lower and upper Hz of the noise.</summary>
    public (double Low, double High) NoiseBand { get; init; } = (300, 7000);

    /// <summary>Soft, middle, hard.</summary>
    public required IReadOnlyList<SustainLayer> Layers { get; init; }

    /// <summary>Makes the sample.</summary>
    /// <param name="key">MIDI key.</param>
    /// <param name="layer">Index in <see cref="Layers"/>.</param>
    /// <param name="seed">Random seed of noise, wavering and jitter.</param>
    /// <param name="keySeed">Random seed of what all layers of a key share.</param>
    public RenderedSound Render(int key, int layer, ulong seed, ulong keySeed)
    {
        var drive = Layers[layer];
        var tuning = LoopTuning.For(key, drive.Rate, drive.LoopFrames);
        double rate = tuning.SampleRate;
        var chance = new SeededNoise(seed);
        var onset = (int)(drive.Onset * rate);
        var before = 2 * onset;

        var phase = Phase(tuning, before, chance);
        var tone = Tone(tuning, layer, drive, phase, before, chance, new SeededNoise(keySeed));
        var noise = Noise(tuning, drive, chance);
        double toneSquare = 0, noiseSquare = 0;
        for (var i = 0; i < tuning.Frames; i++)
        {
            toneSquare += tone[before + i] * tone[before + i];
            noise[i] *= Rhythm(phase[before + i]);
            noiseSquare += noise[i] * noise[i];
        }

        var ratio = drive.Noise * Math.Sqrt(toneSquare / noiseSquare);
        var scale = 1 / Math.Sqrt(toneSquare / tuning.Frames);
        var frames = new double[before + tuning.Frames + RenderedSound.Guard];
        for (var i = 0; i < frames.Length; i++)
        {
            var inLoop = (i - before + (2 * tuning.Frames)) % tuning.Frames;
            frames[i] = scale * (tone[i >= before ? before + inLoop : i] + (ratio * noise[inLoop]));
        }

        Begin(frames, before, onset, rate, tuning.Frequency, drive, phase, new SeededNoise(seed + 77));
        return new(frames, tuning.SampleRate, before, before + tuning.Frames, 0, tuning.Period);
    }

    // The wave's phase in periods, from the onset to the end of the loop.
    private double[] Phase(LoopTuning tuning, int before, SeededNoise chance)
    {
        double rate = tuning.SampleRate;
        var jitter = new SlowNoise(tuning.Frames, rate, SlowestJitter, FastestJitter, chance, isSlope: true);
        var unsettled = new SlowNoise(tuning.Frames, rate, 15, 60, chance, isSlope: false);
        var slope = tuning.Frequency * (Math.Pow(2, JitterCents / 1200) - 1);
        var phase = new double[before + tuning.Frames];
        for (var i = 0; i < phase.Length; i++)
        {
            var settled = i < before ? 1 - ((double)i / before) : 0;
            phase[i] = ((i - before) / tuning.Period) + (slope * jitter.At(i - before))
                + (settled == 0 ? 0 : UnsettledPeriods * settled * settled * settled * unsettled.At(i));
        }

        return phase;
    }

    private double[] Tone(LoopTuning tuning, int layer, SustainLayer drive, double[] phase, int before, SeededNoise chance, SeededNoise keyChance)
    {
        double rate = tuning.SampleRate, frequency = tuning.Frequency;
        var body = new Body(Direct, Body, rate);
        var top = Math.Min(Top, 0.42 * rate);
        var partials = new Complex[(int)(top / frequency)];
        for (var k = 1; k <= partials.Length; k++)
        {
            var f = k * frequency;
            var level = Partial(k, frequency, layer) + (k % 2 == 0 ? OctaveShare * Partial(k / 2, 2 * frequency, layer) : 0);
            var uneven = k == 1 ? 1 : 1 + (Unevenness * keyChance.Next());
            partials[k - 1] = uneven * level * Softened(f, drive.Brightness) * Edge(f, top) * body.Response(f, rate) * -Complex.ImaginaryOne;
        }

        var tone = new double[phase.Length];
        var wavers = GroupStarts.Select(_ => new SlowNoise(tuning.Frames, rate, 0, FastestWaver, chance, isSlope: false)).ToArray();
        var depths = GroupStarts.Select(start => Waver * (1 + (0.5 * Math.Min(start - 1, 8)))).ToArray();
        for (var i = 0; i < tone.Length; i++)
        {
            var (sin, cos) = Math.SinCos(2 * Math.PI * phase[i]);
            double real = cos, imaginary = sin;
            for (int group = 0, k = 1; group < GroupStarts.Length; group++)
            {
                var end = group + 1 < GroupStarts.Length ? Math.Min(GroupStarts[group + 1] - 1, partials.Length) : partials.Length;
                double sum = 0;
                for (; k <= end; k++)
                {
                    var partial = partials[k - 1];
                    sum += (partial.Real * real) - (partial.Imaginary * imaginary);
                    (real, imaginary) = ((real * cos) - (imaginary * sin), (real * sin) + (imaginary * cos));
                }

                tone[i] += sum * (1 + (depths[group] * wavers[group].At(i - before)));
            }
        }

        return tone;
    }

    // One loop of noise that repeats exactly.
    private double[] Noise(LoopTuning tuning, SustainLayer drive, SeededNoise chance)
    {
        var n = tuning.Frames;
        double rate = tuning.SampleRate, top = Math.Min(Top, 0.42 * rate);
        var body = new Body(Direct, Body, rate);
        var spectrum = new Complex[n];
        for (var i = 1; i < n / 2; i++)
        {
            var f = i * rate / n;
            var shape = f * f / ((f * f) + (NoiseBand.Low * NoiseBand.Low)) / (1 + Math.Pow(f / NoiseBand.High, 4));
            spectrum[i] = body.Response(f, rate) * Complex.FromPolarCoordinates(shape * Softened(f, 2 * drive.Brightness) * Edge(f, top), Math.PI * chance.Next());
        }

        Fourier.Backward(spectrum);
        return [.. spectrum.Select(value => value.Real)];
    }

    // How strong the noise is within the period: strongest when the string slips or the reed opens.
    private double Rhythm(double phase)
    {
        var part = phase - Math.Floor(phase);
        return 1 - NoiseInRhythm + (NoiseInRhythm * 3 * Math.Exp(-6 * part));
    }

    private void Begin(double[] frames, int before, int onset, double rate, double frequency, SustainLayer drive, double[] phase, SeededNoise chance)
    {
        var band = Biquad.HighPass(Math.Clamp(2 * frequency, 500, 1500), 0.6, rate);
        var body = new Body(Direct, Body, rate);
        var quick = 0.006 * rate;
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

            // Full band from the first milliseconds, in the rhythm of the slips, and gone when the tone has settled.
            var scratch = drive.OnsetNoise * Math.Min(1, i / quick) * Math.Pow(1 - open, 2) * Rhythm(phase[i]);
            frames[i] = (rise * ((blend * frames[i]) + ((1 - blend) * low2))) + (scratch * body.Next(band.Next(chance.Next())));
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
