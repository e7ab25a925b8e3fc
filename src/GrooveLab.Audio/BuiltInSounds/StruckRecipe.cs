namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One mode of a block, a skin or a stick.</summary>
/// <param name="Frequency">Frequency in Hz.</param>
/// <param name="Decay">60 dB decay time in seconds.</param>
/// <param name="Level">Level at the stroke.</param>
internal readonly record struct Mode(double Frequency, double Decay, double Level);

/// <summary>One burst of noise.</summary>
/// <param name="Delay">Seconds after the stroke.</param>
/// <param name="Frequency">Centre of its band, in Hz.</param>
/// <param name="Q">Quality factor of its band.</param>
/// <param name="Rise">Seconds to its full level; 0 for immediate.</param>
/// <param name="Decay">60 dB decay time in seconds.</param>
/// <param name="Level">Level at its peak.</param>
internal readonly record struct Burst(double Delay, double Frequency, double Q, double Rise, double Decay, double Level);

/// <summary>A percussion sound: a few modes and bursts of noise. It begins at its first frame.</summary>
internal sealed record StruckRecipe
{
    public const int Rate = 44100;

    /// <summary>MIDI key in the kit.</summary>
    public required int Key { get; init; }

    /// <summary>At most 20 ASCII characters.</summary>
    public required string Name { get; init; }

    public IReadOnlyList<Mode> Modes { get; init; } = [];

    public IReadOnlyList<Burst> Bursts { get; init; } = [];

    /// <summary>Semitones by which the pitch of the modes falls after the stroke, as on a drum skin.</summary>
    public double Drop { get; init; }

    /// <summary>Length in seconds.</summary>
    public required double Length { get; init; }

    /// <summary>Loudness relative to the clicks, in dB.</summary>
    public double Level { get; init; }

    /// <summary>Reverb send, in tenths of a percent.</summary>
    public int Reverb { get; init; } = 80;

    /// <summary>Exclusive class: sounds of one class end each other; 0 for none.</summary>
    public int ExclusiveClass { get; init; }

    /// <param name="hardness">0 soft, 1 middle, 2 hard.</param>
    /// <param name="seed">Random seed of the noise.</param>
    public RenderedSound Render(int hardness, ulong seed)
    {
        var frames = new double[(int)(Length * Rate)];

        // A harder stick excites the upper modes and the noise more.
        var tilt = hardness switch { 0 => 0.45, 1 => 0.7, _ => 1 };
        for (var m = 0; m < Modes.Count; m++)
        {
            var mode = Modes[m];
            double level = mode.Level * (m == 0 ? 1 : tilt), fall = Math.Exp(-StringLosses.DecayRate(mode.Decay) / Rate), phase = 0;
            for (var i = 0; i < frames.Length; i++)
            {
                // A sine that starts at zero has its full slope at once: a sharp onset without a step, which would crackle.
                frames[i] += level * Math.Sin(phase);
                level *= fall;
                var semitones = Drop * Math.Exp(-i / (0.02 * Rate));
                phase += 2 * Math.PI * mode.Frequency / Rate * (semitones == 0 ? 1 : Math.Pow(2, semitones / 12));
            }
        }

        for (var b = 0; b < Bursts.Count; b++)
        {
            var burst = Bursts[b];
            var noise = new SeededNoise(seed + (ulong)b);
            var band = Biquad.BandPass(burst.Frequency, burst.Q, Rate);
            double fall = Math.Exp(-StringLosses.DecayRate(burst.Decay) / Rate), level = burst.Level * tilt;
            var rise = (int)(burst.Rise * Rate);
            for (int i = (int)(burst.Delay * Rate), age = 0; i < frames.Length; i++, age++)
            {
                var opened = age < rise ? (double)age / rise : 1;
                frames[i] += opened * level * band.Next(noise.Next());
                level *= age < rise ? 1 : fall;
            }
        }

        var low = Biquad.HighPass(30, 0.7, Rate);
        var end = frames.Length / 5;
        for (var i = 0; i < frames.Length; i++)
        {
            var left = frames.Length - i;
            frames[i] = low.Next(frames[i]) * (left < end ? 0.5 - (0.5 * Math.Cos(Math.PI * left / end)) : 1);
        }

        return new(frames, Rate, 0, 0, 0);
    }
}
