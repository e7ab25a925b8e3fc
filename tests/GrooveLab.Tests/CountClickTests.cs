using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The audible clicks are at their computed places.</summary>
public sealed class CountClickTests : IDisposable
{
    private readonly Running _program = new();

    public static TheoryData<string> Presets => PresetTests.Presets;

    /// <summary>
    /// Source of the check: aubio 0.4.9 (Debian package aubio-tools), spectral flux, windows of 512, hops of 64. On a dry click track its
    /// own error is at most 1.2 ms.
    /// </summary>
    [Theory]
    [MemberData(nameof(Presets))]
    public void Render_DryCountStem_HasEveryClickWithinTwoMilliseconds(string preset)
    {
        var aubio = References.RequireTool("aubioonset");
        var path = Running.Presets.Single(file => Path.GetFileNameWithoutExtension(file) == preset);
        var shown = _program.Run("show", path, "--json", "--bars", "8").Out;
        using var document = JsonDocument.Parse(shown);
        var leadIn = document.RootElement.GetProperty("leadIn");
        var expected = Clicks(leadIn, 0.2, leadIn.GetProperty("length").GetDouble(), Length(leadIn)).ToList();
        var lead = leadIn.GetProperty("length").GetDouble();
        foreach (var bar in document.RootElement.GetProperty("bars").EnumerateArray())
        {
            expected.AddRange(Clicks(bar, 0.2 + lead + bar.GetProperty("start").GetDouble(), bar.GetProperty("length").GetDouble(), Length(bar)));
        }

        var name = CountPart(document.RootElement);
        var ran = _program.Run("render", path, "-o", "count.wav", "--bars", "8", "--only", name, "--dry", "--rate", "44100");
        Assert.Equal("", ran.Error);
        var heard = Onsets(aubio, _program.Path("count.wav"));
        Assert.NotEmpty(expected);
        foreach (var click in expected)
        {
            var nearest = heard.MinBy(onset => Math.Abs(onset - click));
            Assert.True(Math.Abs(nearest - click) <= 0.002, $"click at {click:0.0000} s, nearest onset {nearest:0.0000} s");
        }
    }

    public void Dispose() => _program.Dispose();

    private static double Length(JsonElement bar)
    {
        // The lead-in has no meter; its length is in whole notes.
        return bar.TryGetProperty("meter", out var meter) ? Fraction(meter.GetString()!) : Fraction(bar.GetProperty("wholes").GetString()!);
    }

    private static IEnumerable<double> Clicks(JsonElement bar, double start, double seconds, double wholes) =>
        ShownBars.Events(bar).Where(note => note.Role == "count").Select(note => start + (note.Onset.ToDouble() / wholes * seconds));

    private static string CountPart(JsonElement root) =>
        root.GetProperty("parts").EnumerateArray().First(part => part.GetProperty("role").GetString() == "count").GetProperty("name").GetString()!;

    private static double Fraction(string text)
    {
        var parts = text.Split('/');
        return double.Parse(parts[0], CultureInfo.InvariantCulture) / (parts.Length > 1 ? double.Parse(parts[1], CultureInfo.InvariantCulture) : 1);
    }

    private static IReadOnlyList<double> Onsets(string aubio, string file)
    {
        var start = new ProcessStartInfo(aubio, ["-i", file, "-O", "specflux", "-B", "512", "-H", "64"]) { RedirectStandardOutput = true, UseShellExecute = false };
        using var process = Process.Start(start)!;
        var lines = process.StandardOutput.ReadToEnd().Split('\n', StringSplitOptions.RemoveEmptyEntries);
        process.WaitForExit();
        return [.. lines.Select(line => double.Parse(line.Split(' ')[0], CultureInfo.InvariantCulture))];
    }
}
