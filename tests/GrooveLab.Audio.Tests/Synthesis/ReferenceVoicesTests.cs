using System.Diagnostics;
using System.Globalization;
using System.Text;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Testing;
using GrooveLab.Testing.Sound;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Compares the number of voices that a key and velocity start, in every preset, with Debian's fluidsynth, which prints a line for each voice.</summary>
public class ReferenceVoicesTests
{
    private static readonly int[] Keys = [0, 21, 36, 38, 43, 55, 60, 64, 72, 84, 99, 127];
    private static readonly int[] Velocities = [1, 40, 64, 90, 127];

    [Theory]
    [InlineData(ReferenceRenderer.SmallBank)]
    [InlineData(ReferenceRenderer.LargeBank)]
    public void Regions_EveryPreset_StartAsManyVoicesAsFluidsynth(string path)
    {
        References.Require(File.Exists(path), $"{path} is not installed");
        var bank = SoundFontBank.Open(path);
        var ours = new List<int>();
        var asked = new List<string>();
        foreach (var preset in bank.Presets)
        {
            // If two presets have the same numbers, neither program defines which one plays.
            if (bank.FindPreset(preset.Bank, preset.Program).Preset != preset)
                continue;
            var regions = bank.Resolve(preset).Regions;
            foreach (var (key, velocity) in Probes(regions))
            {
                ours.Add(regions.Count(region => region.Answers(key, velocity)));
                asked.Add($"{preset.Bank}:{preset.Program} key {key} velocity {velocity}");
            }
        }

        var theirs = Count(path, bank, ours.Count);
        var differing = Enumerable.Range(0, ours.Count).Where(i => ours[i] != theirs[i]).ToArray();

        Assert.True(ours.Count > 10_000, $"{ours.Count} probes");
        Assert.True(ours.Max() > 1);
        Assert.True(
            differing.Length == 0,
            $"{differing.Length} of {ours.Count}: {string.Join("; ", differing.Take(5).Select(i => $"{asked[i]}: {ours[i]}, not {theirs[i]}"))}");
    }

    /// <summary>
    /// The corners of every region, just inside and just outside, where a misread border makes a difference, and a grid independent of the
    /// regions.
    /// </summary>
    private static IEnumerable<(int Key, int Velocity)> Probes(Region[] regions)
    {
        var corners =
            from region in regions
            from key in new[] { region.LowKey - 1, region.LowKey, region.HighKey, region.HighKey + 1 }
            from velocity in new[] { region.LowVelocity - 1, region.LowVelocity, region.HighVelocity, region.HighVelocity + 1 }
            where key is >= 0 and <= 127 && velocity is >= 1 and <= 127
            select (key, velocity);
        return corners.Concat(Keys.SelectMany(key => Velocities.Select(velocity => (key, velocity)))).Distinct();
    }

    private static int[] Count(string path, SoundFontBank bank, int probes)
    {
        var command = References.RequireTool("fluidsynth");
        // It also renders, so discard its output, as cheaply as possible.
        string[] arguments =
        [
            "-n", "-v", "-a", "file", "-o", "audio.file.name=/dev/null", "-o", "synth.polyphony=2048", "-r", "8000", "-R", "0", "-C", "0", path,
        ];
        using var process = Process.Start(new ProcessStartInfo(command, arguments)
        {
            UseShellExecute = false,
            RedirectStandardInput = true,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        })!;
        var lines = process.StandardError.ReadToEndAsync();
        var output = process.StandardOutput.ReadToEndAsync();
        var script = new StringBuilder();
        foreach (var preset in bank.Presets)
        {
            if (bank.FindPreset(preset.Bank, preset.Program).Preset != preset)
                continue;
            script.Append(CultureInfo.InvariantCulture, $"select 0 1 {preset.Bank} {preset.Program}\n");
            var since = 0;
            foreach (var (key, velocity) in Probes(bank.Resolve(preset).Regions))
            {
                script.Append(CultureInfo.InvariantCulture, $"noteon 0 {key} {velocity}\n");
                if (++since % 40 == 0)
                    script.Append("reset\n").Append(CultureInfo.InvariantCulture, $"select 0 1 {preset.Bank} {preset.Program}\n");
            }
            script.Append("reset\n");
        }
        process.StandardInput.Write(script.Append("quit\n"));
        process.StandardInput.Close();
        process.WaitForExit();
        output.GetAwaiter().GetResult();

        // "fluidsynth: noteon  channel  key  velocity  number of the note-on ..."
        var counts = new int[probes];
        foreach (var line in lines.GetAwaiter().GetResult().Split('\n'))
        {
            var fields = line.Split('\t');
            if (fields.Length > 4 && fields[0].EndsWith("noteon", StringComparison.Ordinal))
                counts[int.Parse(fields[4], CultureInfo.InvariantCulture)]++;
        }
        return counts;
    }
}
