namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The parameters of the instruments and the kit.</summary>
/// <remarks>
/// Goals (ranges, decays, brightness) are common practice for each family, tuned by measurement; no recording was copied or analysed.
/// <c>docs/built-in-sounds.md</c> has a table of goals and results.
/// </remarks>
internal static class BuiltInInstruments
{
    private static readonly Resonance[] RoundBack =
        [new(118, 9, 1.6), new(235, 10, 1.3), new(390, 9, 1.0), new(620, 8, 0.8), new(1150, 5, 0.6), new(2600, 2.5, 0.8), new(5800, 1.4, 1.2)];

    private static readonly PluckRecipe Course = new()
    {
        Decay = new(7.5, 2.2),
        UpperDecay = new(1.8, 0.8),
        TopDecay = new(0.8, 0.45),
        Corner = 1400,
        PickPosition = new(0.11, 0.15),
        Tilt = new(260, 1100),
        FastShare = 0.3,
        NoiseDecay = 0.02,
        NoiseFrequency = 4200,
        Knock = 0.03,
        Stiffness = new(6e-5, 2.5e-5),
        Body = RoundBack,
        BodyLow = 75,
        Natural = new(0.4, 0.23),
        Layers = [new(2400, 0.4, 0.5, 0.03, 18000), new(5600, 0.9, 0.8, 0.09, 28000), new(16000, 3.8, 1, 0.2, 30000)],
    };

    private static readonly PluckRecipe DoubleBass = new()
    {
        Decay = new(4.2, 1.6),
        UpperDecay = new(0.5, 0.35),
        TopDecay = new(0.2, 0.15),
        Corner = 500,
        PickPosition = new(0.3, 0.32),
        Tilt = new(50, 150),
        FastShare = 0.35,
        NoiseDecay = 0.05,
        NoiseFrequency = 900,
        Knock = 0.05,
        Stiffness = new(9e-5, 6e-5),
        Wandering = 0.02,
        Body = [new(58, 2.5, 2.2), new(105, 6, 0.9), new(165, 8, 0.7), new(290, 6, 0.6), new(640, 4, 0.5), new(2200, 1.5, 0.8)],
        BodyLow = 30,
        Natural = new(0.4, 0.3),
        Layers = [new(500, 0.7, 0.4, 0.006, 16000), new(1100, 1, 0.7, 0.02, 20000), new(2400, 1.5, 1, 0.05, 22000)],
    };

    /// <summary>The pitched instruments, by program.</summary>
    public static IReadOnlyList<InstrumentRecipe> Pitched { get; } =
    [
        new()
        {
            Name = "Hammered dulcimer",
            Program = 15,
            LowKey = 48,
            HighKey = 88,
            Detune = 2.6,
            Halo = new() { Softer = 24, Swell = 0.06, Decay = 3.5, Release = 2.2 },
            Release = new(1.6, 0.9),
            Reverb = 340,
            Pluck = new()
            {
                Decay = new(4.5, 1.8),
                UpperDecay = new(1.2, 0.6),
                TopDecay = new(0.55, 0.4),
                Corner = 1600,
                PickPosition = new(0.09, 0.13),
                Tilt = new(700, 2200),
                FastShare = 0.35,
                NoiseDecay = 0.025,
                NoiseFrequency = 4200,
                Knock = 0.06,
                Stiffness = new(2.5e-4, 1e-4),
                Body = [new(190, 7, 1.0), new(330, 8, 1.1), new(540, 7, 0.9), new(980, 5, 0.7), new(2100, 3, 0.7), new(3900, 3, 0.6), new(7000, 1.5, 0.7)],
                BodyLow = 110,
                Natural = new(0.4, 0.24),
                Layers = [new(1900, 0.33, 0.5, 0.05, 18000), new(4500, 0.76, 0.8, 0.14, 28000), new(16000, 5, 1, 0.3, 30000)],
            },
        },
        new()
        {
            Name = "Reed pair",
            Program = 21,
            LowKey = 48,
            HighKey = 96,
            Release = new(0.16, 0.1),
            Reverb = 250,
            Sustain = new()
            {
                // A pulse wave with a duty cycle of about a quarter, softened like a reed.
                Partial = (k, _, layer) => Math.Sin(Math.PI * k * 0.27) / Math.Pow(k, layer switch { 0 => 1.45, 1 => 1.24, _ => 0.74 }),
                Body = [new(520, 2, 0.3), new(1050, 3.2, 1.0), new(1900, 3.2, 1.3), new(3100, 3.2, 1.3), new(4800, 2.5, 0.9), new(7600, 1.6, 1.3)],
                Direct = 0.4,
                OctaveShare = 0.5,
                Unevenness = 0.06,
                Waver = 0.008,
                JitterCents = 1,
                NoiseInRhythm = 0.3,
                NoiseBand = (800, 9000),
                Layers = [new(2200, 0.006, 0.05, 0.03, 20000, 8192), new(4500, 0.008, 0.035, 0.05, 26000, 8192), new(9000, 0.01, 0.022, 0.08, 26000, 8192)],
            },
        },
        new()
        {
            Name = "Gut-strung pluck",
            Program = 24,
            LowKey = 40,
            HighKey = 88,
            Release = new(0.3, 0.18),
            Pluck = new()
            {
                Decay = new(4.6, 1.2),
                UpperDecay = new(0.6, 0.32),
                TopDecay = new(0.2, 0.15),
                Corner = 900,
                PickPosition = new(0.16, 0.2),
                Tilt = new(170, 700),
                FastShare = 0.3,
                NoiseDecay = 0.02,
                NoiseFrequency = 2400,
                Knock = 0.04,
                Stiffness = new(4e-5, 2e-5),
                Body = [new(102, 10, 2.0), new(204, 11, 1.8), new(310, 9, 0.9), new(420, 10, 1.1), new(640, 8, 0.6), new(1300, 4, 0.4)],
                BodyLow = 70,
                Natural = new(0.42, 0.25),
                Layers = [new(1500, 0.6, 0.5, 0.015, 17000), new(2900, 0.95, 0.8, 0.04, 25000), new(8500, 2.6, 1, 0.1, 29000)],
            },
        },
        new()
        {
            Name = "Plucked course",
            Program = 25,
            LowKey = 40,
            HighKey = 88,
            Detune = 2.6,
            Release = new(0.3, 0.16),
            Pluck = Course,
        },
        new()
        {
            Name = "Damped stroke",
            Program = 28,
            LowKey = 40,
            HighKey = 88,
            Release = new(0.12, 0.08),
            Reverb = 200,
            Pluck = Course with
            {
                Decay = new(0.2, 0.13),
                UpperDecay = new(0.11, 0.08),
                TopDecay = new(0.07, 0.06),
                Natural = new(0.2, 0.13),
                Looped = false,
                BuiltInDetune = 3,
                Body = [.. RoundBack.Select(r => r with { Q = 0.45 * r.Q })],
                Knock = 0.06,

                // A narrower hard touch peaks so high that full scale would hold it well below the loudness of the other layers.
                Layers = [Course.Layers[0], Course.Layers[1], Course.Layers[2] with { Tilt = 2.6, Click = 0.1 }],
            },
        },
        new()
        {
            Name = "Plucked bass",
            Program = 32,
            LowKey = 28,
            HighKey = 60,
            Release = new(0.3, 0.2),
            Reverb = 100,
            Pluck = DoubleBass,
        },
        new()
        {
            Name = "Plucked bass bright",
            Program = 33,
            LowKey = 28,
            HighKey = 60,
            Release = new(0.26, 0.18),
            Reverb = 80,
            Pluck = DoubleBass with
            {
                Decay = new(6, 2.4),
                PickPosition = new(0.16, 0.2),
                NoiseFrequency = 2200,
                Knock = 0.08,
                Layers = [new(800, 0.8, 0.5, 0.02, 16000), new(1600, 1.2, 0.8, 0.06, 18000), new(3200, 1.8, 1, 0.12, 22000)],
            },
        },
        new()
        {
            Name = "Bowed high",
            Program = 40,
            LowKey = 55,
            HighKey = 93,
            Release = new(0.28, 0.2),
            Reverb = 390,
            VibratoCents = 11,
            VibratoRate = 5.6,
            VibratoSwell = 7,
            Sustain = new()
            {
                Partial = (k, _, layer) => 1 / Math.Pow(k, layer switch { 0 => 1.1, 1 => 1, _ => 0.84 }),
                Body = [new(280, 9, 1.3), new(470, 9, 1.5), new(560, 10, 1.1), new(1050, 4, 0.7), new(2500, 2.2, 1.8), new(4300, 3, 0.7), new(7000, 1.5, 0.7)],
                Direct = 0.55,
                Waver = 0.03,
                JitterCents = 4,
                UnsettledPeriods = 0.06,
                NoiseInRhythm = 0.7,
                NoiseBand = (500, 9000),
                Layers = [new(1900, 0.03, 0.09, 0.12, 14000, 8192), new(3500, 0.04, 0.065, 0.2, 25000, 16384), new(14000, 0.05, 0.045, 0.3, 25000, 16384)],
            },
        },
        new()
        {
            Name = "Bowed low",
            Program = 42,
            LowKey = 36,
            HighKey = 76,
            Release = new(0.34, 0.24),
            Reverb = 360,
            VibratoCents = 10,
            VibratoRate = 5,
            VibratoDelay = 0.55,
            VibratoSwell = 7,
            Sustain = new()
            {
                Partial = (k, _, layer) => 1 / Math.Pow(k, layer switch { 0 => 1.1, 1 => 1, _ => 0.92 }),
                Body = [new(105, 8, 1.1), new(180, 9, 1.4), new(240, 8, 1.0), new(420, 6, 0.8), new(700, 4, 0.6), new(1700, 1.8, 1.5), new(3400, 2, 0.9), new(6500, 1.5, 0.9)],
                Direct = 0.5,
                Waver = 0.03,
                Unevenness = 0.04,
                JitterCents = 4,
                UnsettledPeriods = 0.06,
                NoiseInRhythm = 0.7,
                NoiseBand = (300, 8000),
                Layers = [new(1600, 0.03, 0.11, 0.12, 13000, 8192), new(3300, 0.04, 0.08, 0.2, 23000, 16384), new(9000, 0.05, 0.055, 0.3, 23000, 16384)],
            },
        },
        new()
        {
            Name = "Whistle",
            Program = 73,
            LowKey = 60,
            HighKey = 98,
            Release = new(0.14, 0.1),
            Reverb = 360,
            VibratoCents = 6,
            VibratoRate = 4.8,
            VibratoDelay = 0.5,
            VibratoSwell = 10,
            Sustain = new()
            {
                // Nearly a sine; blowing harder raises the octave and the twelfth.
                Partial = (k, _, layer) => k switch
                {
                    1 => 1,
                    2 => layer switch { 0 => 0.08, 1 => 0.16, _ => 0.3 },
                    3 => layer switch { 0 => 0.04, 1 => 0.09, _ => 0.19 },
                    _ => (layer switch { 0 => 0.016, 1 => 0.04, _ => 0.1 }) / (k - 3),
                },
                Body = [new(800, 1.2, 0.2), new(1600, 1.5, 0.2), new(2900, 2, 0.2), new(4400, 2, 0.15)],
                Waver = 0.02,
                Unevenness = 0.35,
                JitterCents = 3,
                NoiseBand = (700, 7000),
                Layers = [new(7000, 0.02, 0.035, 0.06, 20000, 8192), new(9000, 0.03, 0.026, 0.1, 25000, 8192), new(12000, 0.045, 0.018, 0.16, 25000, 8192)],
            },
        },
        new()
        {
            Name = "Short-necked skin",
            Program = 105,
            LowKey = 48,
            HighKey = 88,
            Release = new(0.22, 0.12),
            Reverb = 210,
            Pluck = new()
            {
                Decay = new(1.6, 0.6),
                UpperDecay = new(0.7, 0.36),
                TopDecay = new(0.3, 0.2),
                Corner = 1500,
                PickPosition = new(0.08, 0.14),
                Tilt = new(800, 2200),
                FastShare = 0.35,
                NoiseDecay = 0.02,
                NoiseFrequency = 2600,
                Knock = 0.08,
                Stiffness = new(2e-5, 1e-5),
                Wandering = 0.05,
                Direct = 0.5,
                Body = [new(290, 4, 0.9), new(480, 4, 1.2), new(760, 4, 1.2), new(1250, 3, 1.0), new(2300, 2.5, 0.9), new(3600, 2.5, 0.5)],
                BodyLow = 170,
                Natural = new(0.36, 0.2),
                Layers = [new(2400, 0.5, 0.5, 0.04, 20000), new(4300, 0.8, 0.8, 0.1, 28000), new(16000, 4.5, 1, 0.26, 30000)],
            },
        },
    ];

    /// <summary>The kit, by key. The four clicks differ in pitch (by more than a fifth) and length.</summary>
    public static IReadOnlyList<StruckRecipe> Kit { get; } =
    [
        new()
        {
            Key = 36,
            Name = "Low drum",
            Length = 0.4,
            Drop = 9,
            Level = -2,
            Modes = [new(74, 0.34, 1), new(128, 0.2, 0.35), new(203, 0.14, 0.2)],
            Bursts = [new(0, 900, 0.8, 0, 0.03, 0.35), new(0, 2800, 0.8, 0, 0.012, 0.2)],
        },
        new()
        {
            Key = 37,
            Name = "Side stick",
            Length = 0.07,
            Modes = [new(560, 0.045, 1), new(1240, 0.025, 0.3)],
            Bursts = [new(0, 2400, 0.8, 0, 0.012, 0.5)],
        },
        new()
        {
            Key = 39,
            Name = "Clap",
            Length = 0.25,
            Level = -3,
            Reverb = 220,
            Bursts =
            [
                new(0, 1250, 1.3, 0, 0.018, 0.8), new(0.010, 1100, 1.3, 0, 0.018, 0.7), new(0.021, 1350, 1.3, 0, 0.018, 0.75),
                new(0.031, 1200, 1.0, 0, 0.17, 1),
            ],
        },
        new()
        {
            Key = 42,
            Name = "Short high tick",
            Length = 0.09,
            Level = -6,
            ExclusiveClass = 1,
            Modes = [new(5230, 0.05, 0.12), new(7410, 0.045, 0.1)],
            Bursts = [new(0, 8200, 0.8, 0, 0.06, 1)],
        },
        new()
        {
            Key = 70,
            Name = "Shaker",
            Length = 0.13,
            Level = -6,
            Reverb = 170,
            Bursts = [new(0, 6300, 1.2, 0.012, 0.07, 1), new(0, 3900, 1.5, 0.012, 0.05, 0.3)],
        },
        new()
        {
            Key = 75,
            Name = "Claves",
            Length = 0.3,
            Modes = [new(2490, 0.24, 1), new(4960, 0.05, 0.18), new(6870, 0.03, 0.1)],
            Bursts = [new(0, 4500, 0.8, 0, 0.008, 0.25)],
        },
        new()
        {
            Key = 76,
            Name = "High block",
            Length = 0.2,
            Modes = [new(1560, 0.14, 1), new(2890, 0.05, 0.3), new(4330, 0.03, 0.15)],
            Bursts = [new(0, 3200, 0.8, 0, 0.01, 0.35)],
        },
        new()
        {
            Key = 77,
            Name = "Low block",
            Length = 0.15,
            Modes = [new(940, 0.09, 1), new(1790, 0.04, 0.3), new(2750, 0.025, 0.15)],
            Bursts = [new(0, 2600, 0.8, 0, 0.01, 0.35)],
        },
    ];
}
