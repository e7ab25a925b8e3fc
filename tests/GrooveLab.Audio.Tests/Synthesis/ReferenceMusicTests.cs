using System.Diagnostics;
using System.Globalization;
using System.Runtime.InteropServices;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Testing;
using GrooveLab.Testing.Sound;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// Compares a dense piece through a small and a large bank with Debian's fluidsynth 2.3.1, dry: the spectrograms show the same music. With
/// <c>GROOVELAB_UPDATE_DOCS=1</c> in the environment, sox draws both into <c>docs/pictures</c>.
/// </summary>
public class ReferenceMusicTests
{
    // Levels further below the loudest are not compared: they are noise floors.
    private const double Range = 60;

    // In dB, explained in docs/synthesizer.md: fluidsynth is louder, and here softer notes are darker (8.4.2).
    private const double MeantDifference = 1.1;

    [Theory]
    [InlineData(ReferenceRenderer.SmallBank, "small", 0.98, 3.5)]
    [InlineData(ReferenceRenderer.LargeBank, "large", 0.99, 1.5)]
    public void Render_DenseMusic_HasTheSpectrogramOfFluidsynth(string bank, string picture, double leastCorrelation, double greatestSpread)
    {
        References.Require(File.Exists(bank), $"{bank} is not installed");
        var theirs = ReferenceRenderer.Render(DenseMusic.Events(), bank).Left;
        var ours = Ours(bank);
        var length = Math.Min(ours.Length, theirs.Length);
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_DOCS") == "1")
        {
            Draw(ours.AsSpan(0, length), $"spectrogram-{picture}-groovelab.png");
            Draw(theirs.AsSpan(0, length), $"spectrogram-{picture}-fluidsynth.png");
        }

        var (a, b) = (BandLevels.Of(ours.AsSpan(0, length)), BandLevels.Of(theirs.AsSpan(0, length)));
        var floor = b.SelectMany(slice => slice).Max() - Range;
        var pairs = a.Zip(b).SelectMany(slice => slice.First.Zip(slice.Second)).Where(pair => pair.Second > floor).ToArray();
        var differences = pairs.Select(pair => pair.First - pair.Second).Order().ToArray();
        var median = differences[differences.Length / 2];
        var spread = differences.Select(difference => Math.Abs(difference - median)).Order().ElementAt(differences.Length * 9 / 10);
        var correlation = Correlation(pairs);

        var found = $"{pairs.Length} pairs, correlation {correlation:F4}, median {median:F2} dB, nine in ten within {spread:F2} dB of it";
        Assert.True(pairs.Length > 4_000, found);
        Assert.True(correlation > leastCorrelation, found);
        Assert.True(Math.Abs(median + MeantDifference) < 0.5, found);
        Assert.True(spread < greatestSpread, found);
    }

    private static float[] Ours(string bank)
    {
        var events = DenseMusic.Events();
        var synth = new SoundFontSynth(
            SoundFontBank.Open(bank), Playing.Rate, new SoundFontSynthOptions { Dry = true });
        var sound = new List<float>();
        foreach (var (seconds, message) in events)
        {
            sound.AddRange(synth.Left(Playing.Frames(seconds) - sound.Count));
            synth.Send(message);
        }
        sound.AddRange(synth.Left(Playing.Frames(1)));
        return [.. sound];
    }

    private static double Correlation((double First, double Second)[] pairs)
    {
        var (a, b) = (pairs.Average(p => p.First), pairs.Average(p => p.Second));
        return pairs.Sum(p => (p.First - a) * (p.Second - b))
            / Math.Sqrt(pairs.Sum(p => (p.First - a) * (p.First - a)) * pairs.Sum(p => (p.Second - b) * (p.Second - b)));
    }

    private static void Draw(ReadOnlySpan<float> sound, string name)
    {
        var raw = Path.GetTempFileName();
        // Sound beyond full scale would be clipped.
        var scaled = sound.ToArray();
        var peak = scaled.Max(Math.Abs);
        for (var i = 0; i < scaled.Length; i++)
            scaled[i] /= peak;
        File.WriteAllBytes(raw, MemoryMarshal.AsBytes(scaled.AsSpan()));
        var picture = Path.Combine(Path.GetDirectoryName(MeasurementTableTests.Document())!, "pictures", name);
        Directory.CreateDirectory(Path.GetDirectoryName(picture)!);
        string[] arguments =
        [
            "-t", "f32", "-r", Playing.Rate.ToString(CultureInfo.InvariantCulture), "-c", "1", raw, "-n", "rate", "24k",
            "spectrogram", "-x", "480", "-y", "160", "-z", "80", "-r", "-o", picture,
        ];
        using var process = Process.Start(new ProcessStartInfo(References.RequireTool("sox"), arguments) { UseShellExecute = false })!;
        process.WaitForExit();
        File.Delete(raw);
        Assert.Equal(0, process.ExitCode);
    }
}
