using System.Globalization;
using System.Text;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The documentation's table of the built-in sounds beside the same programs of two recorded banks, all played dry by the program's synthesizer.</summary>
internal static class ComparedTable
{
    private const int Rate = 48000;
    private const int Velocity = 80;

    /// <summary>The recorded banks: name and file (Debian packages timgm6mb-soundfont and fluid-soundfont-gm).</summary>
    public static readonly (string Name, string File)[] Banks =
        [("TimGM6mb", "/usr/share/sounds/sf2/TimGM6mb.sf2"), ("FluidR3", "/usr/share/sounds/sf2/FluidR3_GM.sf2")];

    public static string Create(BankUnderTest own)
    {
        (string Name, SoundFontBank Bank)[] banks =
            [("built-in", SoundFontBank.Load(own.Bytes, "built-in")), .. Banks.Select(bank => (bank.Name, SoundFontBank.Open(bank.File)))];
        var text = new StringBuilder();
        text.AppendLine("| program | instrument | bank | attack ms | centroid Hz | decay time (60 dB) s, low / middle / high key | noise dB |");
        text.AppendLine("|---|---|---|---|---|---|---|");
        foreach (var (name, program, low, high, plucked) in Instruments.All)
        {
            var middle = (low + high) / 2;
            foreach (var (bankName, bank) in banks)
            {
                var note = Play(bank, program, middle);
                var attack = 1000 * Measure.Attack(note, Rate, 1 / Measure.KeyFrequency(middle));
                var centroid = Measure.Centroid(Measure.PowerSpectrum(note.AsSpan(0, Rate / 2)), Rate);
                var decay = plucked ? string.Join(" / ", new[] { low + 4, middle, high - 4 }.Select(key => Number(Fall(bank, program, key), 1))) : "sustained";
                text.AppendLine(CultureInfo.InvariantCulture, $"| {program} | {name} | {bankName} | {Number(attack, 0)} | {Number(centroid, 0)} | {decay} | {Number(Noise(note, middle), 0)} |");
            }
        }

        return text.ToString();
    }

    // Power between the partials against all power, between 0.1 and 0.4 s: what is neither hum nor tone.
    private static double Noise(double[] note, int key)
    {
        var windowed = note.AsSpan(Rate / 10, 16384).ToArray();
        for (var i = 0; i < windowed.Length; i++)
        {
            windowed[i] *= 0.5 - (0.5 * Math.Cos(2 * Math.PI * i / windowed.Length));
        }

        var power = Measure.PowerSpectrum(windowed);
        double bin = Rate / 2.0 / power.Length, fundamental = Measure.KeyFrequency(key), all = 0, between = 0;
        for (var i = (int)(fundamental / 2 / bin); i < power.Length; i++)
        {
            var place = i * bin / fundamental;
            all += power[i];
            between += Math.Abs(place - Math.Round(place)) is > 0.25 ? power[i] : 0;
        }

        return 10 * Math.Log10(between / all);
    }

    private static double Fall(SoundFontBank bank, int program, int key)
    {
        var note = Play(bank, program, key);
        return program == 28 ? Measure.Decay(note, Rate, 0.01, 0.2) : Measure.Decay(note, Rate, 0.1, 1.2);
    }

    private static double[] Play(SoundFontBank bank, int program, int key)
    {
        var synth = new SoundFontSynth(bank, Rate, new SoundFontSynthOptions { Dry = true, ResolvesAtFirstNote = true });
        synth.Program(0, program);
        synth.NoteOn(0, key, Velocity);
        float[] left = new float[13 * Rate / 10], right = new float[left.Length];
        synth.Render(left, right);
        return [.. left.Zip(right, (l, r) => (double)l + r)];
    }

    private static string Number(double value, int digits) => value.ToString("F" + digits, CultureInfo.InvariantCulture);
}
