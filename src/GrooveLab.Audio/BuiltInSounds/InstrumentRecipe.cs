namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One built-in instrument: how its samples are made, and how they respond to touch.</summary>
internal sealed record InstrumentRecipe
{
    // Beside the layers' numbers, so that everything that is random has a seed of its own.
    private const int SecondSeed = 5;
    private const int HaloSeed = 7;
    private const int KeySeed = 9;

    /// <summary>At most 20 ASCII characters.</summary>
    public required string Name { get; init; }

    /// <summary>General MIDI program, from 0.</summary>
    public required int Program { get; init; }

    /// <summary>Lowest key of its range; keys below still sound.</summary>
    public required int LowKey { get; init; }

    /// <summary>Highest key of its range; keys above still sound.</summary>
    public required int HighKey { get; init; }

    /// <summary>Semitones between samples, three or four.</summary>
    public int Step { get; init; } = 4;

    /// <summary>The string, if it is plucked or struck.</summary>
    public PluckRecipe? Pluck { get; init; }

    /// <summary>The tone, if it is bowed or blown.</summary>
    public SustainRecipe? Sustain { get; init; }

    /// <summary>Cents between the two strings of a key, each a separate voice, so that they beat; 0 for a single one.</summary>
    public double Detune { get; init; }

    /// <summary>How much softer the second string is, in dB.</summary>
    public double SecondSofter { get; init; } = 7;

    /// <summary>The strings that ring along, if any.</summary>
    public HaloRecipe? Halo { get; init; }

    /// <summary>Release time for 60 dB, in seconds.</summary>
    public required Scale Release { get; init; }

    /// <summary>Reverb send, in tenths of a percent.</summary>
    public int Reverb { get; init; } = 280;

    /// <summary>Vibrato to either side, in cents; 0 for none. Each sample has a depth, rate and start of its own around these values.</summary>
    public double VibratoCents { get; init; }

    /// <summary>Vibrato in Hz.</summary>
    public double VibratoRate { get; init; } = 5.3;

    /// <summary>Seconds before the vibrato starts.</summary>
    public double VibratoDelay { get; init; } = 0.45;

    /// <summary>Level variation with the vibrato, in centibels to either side.</summary>
    public double VibratoSwell { get; init; }

    /// <summary>Makes the sample of one layer.</summary>
    public RenderedSound Render(int key, int layer) => Pluck is not null
        ? Pluck.Render(key, Place(key), layer, Seed(key, layer), Seed(key, KeySeed))
        : Sustain!.Render(key, layer, Seed(key, layer), Seed(key, KeySeed));

    /// <summary>
    /// Makes the second string, one for all layers: the plectrum reaches it more softly and at another place. The same string twice would sound
    /// like one string swept through a comb filter.
    /// </summary>
    public RenderedSound RenderSecond(int key) => (Pluck! with
    {
        PickPosition = new(1.45 * Pluck.PickPosition.Low, 1.45 * Pluck.PickPosition.High),
        Layers = [.. Pluck.Layers.Select(layer => layer with { Noise = 0, Click = 0 })],
    }).Render(key, Place(key), 0, Seed(key, SecondSeed), Seed(key, SecondSeed));

    /// <summary>Makes the strings that ring along with a key.</summary>
    public RenderedSound RenderHalo(int key) => Halo!.Render(key, Seed(key, HaloSeed));

    /// <summary>A number from -1 to 1 that belongs to one sample, for what varies from sample to sample outside it.</summary>
    /// <param name="key">MIDI key.</param>
    /// <param name="layer">Index of the layer.</param>
    /// <param name="what">Which of the sample's numbers.</param>
    public double Chance(int key, int layer, int what) => new SeededNoise(Seed(key, layer) + (ulong)(1_000_003 * (what + 1))).Next();

    private double Place(int key) => Math.Clamp((double)(key - LowKey) / (HighKey - LowKey), 0, 1);

    private ulong Seed(int key, int layer) => (ulong)((Program * 100_000) + (key * 100) + (layer * 10));
}
