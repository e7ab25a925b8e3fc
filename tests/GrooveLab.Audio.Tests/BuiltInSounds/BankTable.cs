using System.Globalization;
using System.Text;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The documentation's table of goals and measured values.</summary>
internal static class BankTable
{
    private const int Rate = 48000;

    // The goals for range and decay come from the recipe; attack and brightness are usual for the family (common practice, no source).
    private static readonly Dictionary<int, (string Attack, string Decay)> Aims = new()
    {
        [15] = ("under 5", "5 to 2"),
        [21] = ("20-50", "sustained"),
        [24] = ("under 5", "5 to 1.2"),
        [25] = ("under 5", "8 to 2"),
        [28] = ("under 5", "0.2 to 0.12"),
        [32] = ("under 10", "4 to 1.6"),
        [33] = ("under 10", "6 to 2.4"),
        [40] = ("40-90", "sustained"),
        [42] = ("50-110", "sustained"),
        [73] = ("15-40", "sustained"),
        [105] = ("under 5", "1.6 to 0.6"),
    };

    public static string Create(BankUnderTest bank)
    {
        var text = new StringBuilder();
        text.AppendLine("| program | instrument | keys | worst tuning error, cents | attack ms, goal | attack ms | decay time (60 dB) s, goal | decay time (60 dB) s, low / middle / high key | spectral centroid Hz, soft / middle / hard | layers differ by at least, dB | worst loop seam, dB | loudness dB, least / most |");
        text.AppendLine("|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (var (name, program, low, high, plucked) in Instruments.All)
        {
            var middle = (low + high) / 2;
            double cents = 0, least = double.MaxValue, loud = double.MinValue, quiet = double.MaxValue, attack = 0;
            for (var key = low; key <= high; key++)
            {
                cents = Math.Max(cents, Instruments.LayerVelocities.Max(v => bank.Strings(program, key, v).Max(r => Math.Abs(Tuning.CentsOff(bank, r, key)))));
                if ((key - low) % 2 == 0)
                {
                    double[] bright = [.. Instruments.LayerVelocities.Select(v => Brightness.Of(bank, program, key, v))];
                    least = Math.Min(least, Math.Min(bright[1] - bright[0], bright[2] - bright[1]));
                }

                var note = bank.Render(program, key, 80, 0.6);
                var level = Measure.Loudness(note, 0.1);
                (quiet, loud) = (Math.Min(quiet, level), Math.Max(loud, level));
                attack = Math.Max(attack, 1000 * Measure.Attack(note, Rate, 1 / Measure.KeyFrequency(key)));
            }

            var seams = bank.Regions(program).Select(r => r.Sample).Distinct().Where(s => s.EndLoop > s.StartLoop).Select(s => Seam.Of(bank, s)).ToArray();
            var seam = seams.Length == 0 ? "no loop" : Seamless(seams.Max());
            var decay = plucked ? string.Join(" / ", new[] { low, middle, high }.Select(k => Number(Fall(bank, program, k), 2))) : "sustained";
            var centre = string.Join(" / ", Instruments.LayerVelocities.Select(v => Number(Centre(bank, program, middle, v), 0)));
            text.AppendLine(CultureInfo.InvariantCulture, $"| {program} | {name} | {low}-{high} | {Number(cents, 1)} | {Aims[program].Attack} | {Number(attack, 0)} | {Aims[program].Decay} | {decay} | {centre} | {Number(least, 1)} | {seam} | {Number(quiet, 1)} / {Number(loud, 1)} |");
        }

        return text.ToString();
    }

    private static double Fall(BankUnderTest bank, int program, int key)
    {
        var seconds = program == 28 ? 0.15 : 1.5;
        return Measure.Decay(bank.Render(program, key, 80, seconds + 0.1), Rate, program == 28 ? 0.01 : 0.1, seconds);
    }

    private static double Centre(BankUnderTest bank, int program, int key, int velocity) =>
        Measure.Centroid(Measure.PowerSpectrum(bank.Render(program, key, velocity, 0.5)), Rate);

    // This low, the seam depends on the last bit of the samples, which machines round differently.
    private static string Seamless(double decibels) => decibels <= -60 ? "under -60" : Number(decibels, 0);

    private static string Number(double value, int digits) => value.ToString("F" + digits, CultureInfo.InvariantCulture);
}
