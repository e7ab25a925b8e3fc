using System.Collections.Concurrent;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>
/// Balances a bank against the built-in sounds: how much louder each of its programs must be for a band to keep its mix.
/// </summary>
/// <remarks>
/// Each program is played in both banks at the same keys and velocities, dry, and their loudness compared (<see cref="Loudness"/>). Programs that
/// the built-in bank lacks are compared with its stand-in. Each program is measured once, in some hundredths of a second. For the thread that
/// prepares sounds.
/// </remarks>
public sealed class LevelBalance
{
    private const int Rate = 32_000;
    private const double NoteSeconds = 0.6;
    private const double ClickStretch = 0.03;
    private const double NoteStretch = 0.2;

    // Silent, or a sound effect that cannot be compared.
    private const double LeastLoudness = 1e-4;

    // Beyond this the bank means another sound.
    private const double MostDecibels = 15;
    private static readonly int[] Velocities = [60, 96];
    private static readonly int[] ClickKeys = [37, 75, 76, 77];
    private readonly SoundFontBank _bank;
    private readonly Lazy<SoundFontBank> _standard;
    private readonly ConcurrentDictionary<(int Bank, int Program), float> _gains = [];

    /// <summary>Balances a bank.</summary>
    /// <param name="bank">The bank.</param>
    /// <param name="standard">Opens the bank to balance against; called at most once, when it is needed.</param>
    public LevelBalance(SoundFontBank bank, Func<SoundFontBank> standard)
    {
        _bank = bank;
        _standard = new Lazy<SoundFontBank>(standard);
    }

    /// <summary>The amplitude factor that makes a program of the bank as loud as that of the standard; 1 where one of the two is silent.</summary>
    /// <param name="bank">Bank number; 128 for percussion.</param>
    /// <param name="program">Program number, 0-127.</param>
    public float Gain(int bank, int program) => _gains.GetOrAdd((bank, program), numbers => Measured(numbers.Bank, numbers.Program));

    private float Measured(int bank, int program)
    {
        var (wanted, own) = (Loudnesses(_standard.Value, bank, program), Loudnesses(_bank, bank, program));
        var ratios = wanted.Zip(own).Where(pair => Math.Min(pair.First, pair.Second) > LeastLoudness)
            .Select(pair => 20 * Math.Log10(pair.First / pair.Second)).ToList();
        return ratios.Count == 0 ? 1 : (float)Math.Pow(10, Math.Clamp(ratios.Average(), -MostDecibels, MostDecibels) / 20);
    }

    private static List<double> Loudnesses(SoundFontBank bank, int number, int program)
    {
        var isPercussion = number == SoundFonts.SoundFontPreset.PercussionBank;
        var synth = new SoundFontSynth(bank, Rate, new SoundFontSynthOptions { Dry = true, ChannelCount = 1, ResolvesAtFirstNote = true });
        synth.SetPercussion(0, isPercussion);
        synth.Control(0, 0, isPercussion ? 0 : number);
        synth.Program(0, program);
        var (left, right) = (new float[(int)(NoteSeconds * Rate)], new float[(int)(NoteSeconds * Rate)]);
        var loudnesses = new List<double>();
        foreach (var key in Keys(isPercussion, program))
        {
            foreach (var velocity in Velocities)
            {
                synth.NoteOn(0, key, velocity);
                synth.Render(left, right);
                synth.Control(0, 120, 0);
                var stretch = isPercussion ? ClickStretch : NoteStretch;
                var both = new[] { left, right }.Select(side => Loudness.Of([.. side.Select(value => (double)value)], Rate, stretch));
                loudnesses.Add(Math.Sqrt(both.Sum(side => side * side)));
                // The fade of what was stopped.
                synth.Render(new float[Rate / 20], new float[Rate / 20]);
            }
        }

        return loudnesses;
    }

    // Where the instruments of General MIDI's families usually play. Common practice, no source.
    private static int[] Keys(bool isPercussion, int program) => isPercussion ? ClickKeys
        : program switch
        {
            >= 32 and < 40 or 43 or 58 or 70 => [31, 38, 43],
            42 or 57 or 60 or 66 => [43, 50, 57],
            >= 72 and < 80 => [74, 81, 86],
            _ => [57, 64, 71],
        };
}
