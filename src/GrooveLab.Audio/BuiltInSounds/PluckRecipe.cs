using System.Numerics;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A plucked or struck string, from plectrum to body. All figures are common practice, tuned by measurement, no source.</summary>
internal sealed record PluckRecipe
{
    // How far a partial strays from the formula, as an amplitude ratio. Common practice, no source.
    private const double Unevenness = 0.12;

    /// <summary>60 dB decay time of the fundamental, in seconds.</summary>
    public required Scale Decay { get; init; }

    /// <summary>The same for partials well above <see cref="Corner"/>.</summary>
    public required Scale UpperDecay { get; init; }

    /// <summary>The same for partials at 9 kHz.</summary>
    public required Scale TopDecay { get; init; }

    /// <summary>Frequency in Hz around which partials begin to decay faster.</summary>
    public double Corner { get; init; } = 1500;

    /// <summary>Where the string is plucked, as a fraction of its length.</summary>
    public required Scale PickPosition { get; init; }

    /// <summary>Frequency in Hz above which partials fall by 6 dB an octave, as for a pluck; for a strike they fall less.</summary>
    public required Scale Tilt { get; init; }

    /// <summary>Share of the motion across the bridge, which decays in less than half the time.</summary>
    public double FastShare { get; init; } = 0.3;

    /// <summary>60 dB decay time of the attack noise, in seconds.</summary>
    public double NoiseDecay { get; init; } = 0.03;

    /// <summary>Centre of the noise's band, in Hz; 0 for a band as wide as the layer's hardness.</summary>
    public double NoiseFrequency { get; init; }

    /// <summary>Share of the noise that bypasses the string and goes straight into the body.</summary>
    public double Knock { get; init; } = 0.3;

    /// <summary>60 dB decay time of the full-band click of the touch, in seconds.</summary>
    public double ClickDecay { get; init; } = 0.008;

    /// <summary>The string's inharmonicity B (<see cref="StiffString"/>).</summary>
    public Scale Stiffness { get; init; }

    /// <summary>How far a sample's place of touch lies from its neighbour's, as a ratio either way; a player never touches the same place twice.</summary>
    public double Wandering { get; init; } = 0.08;

    /// <summary>Level of the sound that bypasses the resonances.</summary>
    public double Direct { get; init; } = 1;

    /// <summary>Four to six resonances.</summary>
    public required IReadOnlyList<Resonance> Body { get; init; }

    /// <summary>Low cutoff of the body in Hz, 12 dB an octave.</summary>
    public double BodyLow { get; init; } = 60;

    /// <summary>Seconds before the loop, or the whole length of a sample without a loop.</summary>
    public required Scale Natural { get; init; }

    /// <summary>Whether the sample ends in a loop; otherwise it ends with <see cref="Natural"/>.</summary>
    public bool Looped { get; init; } = true;

    /// <summary>Cents between two strings that are both in the sample; 0 for one string.</summary>
    public double BuiltInDetune { get; init; }

    /// <summary>Soft, middle, hard.</summary>
    public required IReadOnlyList<PluckLayer> Layers { get; init; }

    /// <summary>Makes the sample.</summary>
    /// <param name="key">MIDI key.</param>
    /// <param name="place">0 at the instrument's lowest key, 1 at its highest.</param>
    /// <param name="layer">Index in <see cref="Layers"/>.</param>
    /// <param name="seed">Random seed of the noise.</param>
    /// <param name="keySeed">Random seed of what all layers of a key share.</param>
    public RenderedSound Render(int key, double place, int layer, ulong seed, ulong keySeed)
    {
        var touch = Layers[layer];
        var nearRate = Math.Min(touch.Rate, 40 * LoopTuning.KeyFrequency(key) + 14000);
        var tuning = LoopTuning.For(key, nearRate, LoopTuning.KeyFrequency(key) < 160 ? 2048 : 1024);
        double rate = tuning.SampleRate;
        var decay = Decay.At(place);
        var natural = (int)(Natural.At(place) * rate);
        var length = Looped ? natural + (2 * tuning.Frames) + RenderedSound.Guard : natural;

        var frames = new double[length];
        var detune = Math.Pow(2, BuiltInDetune / 2 / 1200);
        var strings = BuiltInDetune > 0 ? 2 : 1;
        for (var s = 0; s < strings; s++)
        {
            AddString(frames, rate, tuning.Frequency * (strings == 1 ? 1 : s == 0 ? detune : 1 / detune), place, touch, seed + (ulong)s, keySeed + (ulong)s);
        }

        PassBody(frames, rate, tuning.Frequency, touch);

        // The envelope decays at the same speed for every key that plays the sample; a decay in the frames would be shorter, and so softer, for
        // higher keys.
        double growth = Math.Exp(StringLosses.DecayRate(decay) / rate), level = 1;
        for (var i = 0; i < length; i++)
        {
            frames[i] *= level;
            level *= growth;
        }

        if (!Looped)
        {
            FadeOut(frames, (int)(0.25 * length));
            return new(frames, tuning.SampleRate, 0, 0, decay);
        }

        PeriodicTail.Close(frames, natural, tuning, Stiffness.At(place));
        return new(frames, tuning.SampleRate, natural + tuning.Frames, natural + (2 * tuning.Frames), decay, tuning.Period);
    }

    private static void FadeOut(double[] frames, int fade)
    {
        for (var i = 0; i < fade; i++)
        {
            frames[frames.Length - 1 - i] *= 0.5 - (0.5 * Math.Cos(Math.PI * i / fade));
        }
    }

    // Amplitude and phase of each partial: the touch's spectrum, minus its reflection from the near end, which comes back inverted, so that
    // every partial with a node at the place of touch is missing. Hands and strings are uneven, so no partial follows the formula exactly.
    private Complex[] Touch(IReadOnlyList<double> frequencies, double rate, double place, PluckLayer touch, SeededNoise chance)
    {
        var soften = Biquad.LowPass(touch.Hardness, 0.6, rate);
        var corner = touch.Tilt * Tilt.At(place);
        var position = PickPosition.At(place) * (1 + (Wandering * chance.Next()));
        var amplitudes = new Complex[frequencies.Count];
        for (var n = 0; n < amplitudes.Length; n++)
        {
            var frequency = frequencies[n];
            var comb = 1 - Complex.FromPolarCoordinates(1, -2 * Math.PI * (n + 1) * position);
            var uneven = 1 + new Complex(Unevenness * chance.Next(), Unevenness * chance.Next());
            amplitudes[n] = soften.Response(frequency, rate) / new Complex(1, frequency / corner) * comb * uneven;
        }

        return amplitudes;
    }

    private void AddString(double[] frames, double rate, double frequency, double place, PluckLayer touch, ulong seed, ulong keySeed)
    {
        var losses = new StringLosses(Decay.At(place), UpperDecay.At(place), Corner, TopDecay.At(place));
        var model = new StiffString(frequency, Stiffness.At(place), rate, 0.42 * rate);
        var amplitudes = Touch(model.Frequencies, rate, place, touch, new SeededNoise(keySeed));
        model.AddTo(frames, amplitudes, losses, 1 - FastShare);
        model.AddTo(frames, amplitudes, losses.Faster(2.5), FastShare);
        var level = amplitudes.Sum(a => a.Magnitude);
        AddNoise(frames, rate, level, touch, new SeededNoise(seed));
    }

    // The touch itself, straight into the body: a click over the whole band, and a longer rubbing in a band of its own.
    private void AddNoise(double[] frames, double rate, double level, PluckLayer touch, SeededNoise noise)
    {
        var band = NoiseFrequency > 0
            ? Biquad.BandPass(NoiseFrequency, 0.5, rate)
            : Biquad.LowPass(Math.Min(1.3 * touch.Hardness, 0.4 * rate), 0.6, rate);
        double rubFall = Math.Exp(-StringLosses.DecayRate(NoiseDecay) / rate), clickFall = Math.Exp(-StringLosses.DecayRate(ClickDecay) / rate);
        double rub = level * Knock * touch.Noise, click = level * touch.Click;
        for (var i = 0; i < frames.Length && Math.Max(rub, click) > 1e-5 * level; i++)
        {
            var white = noise.Next();
            frames[i] += (rub * band.Next(white)) + (click * white);
            rub *= rubFall;
            click *= clickFall;
        }
    }

    private void PassBody(double[] frames, double rate, double frequency, PluckLayer touch)
    {
        var body = new Body(Direct, Body, rate);
        var low = Biquad.HighPass(Math.Min(BodyLow, 0.7 * frequency), 0.7, rate);
        var top = Biquad.LowPass(0.42 * rate, 0.7, rate);
        for (var i = 0; i < frames.Length; i++)
        {
            frames[i] = top.Next(low.Next(body.Next(frames[i])));
        }
    }
}
