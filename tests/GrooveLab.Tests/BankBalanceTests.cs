using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The demo played with real banks instead of the built-in sounds. The 3 dB allowed are common practice, no source.</summary>
public sealed class BankBalanceTests
{
    // The demo goes through all its sections once.
    private const int Bars = 24;
    private const int Rate = 48_000;

    [Theory]
    [InlineData("/usr/share/sounds/sf2/TimGM6mb.sf2")]
    [InlineData("/usr/share/sounds/sf2/FluidR3_GM.sf2")]
    [InlineData("/usr/share/sounds/sf2/sf_GMbank.sf2")]
    [InlineData("/usr/share/sounds/sf3/FluidR3Mono_GM.sf3")]
    public void Render_DemoWithARealBank_KeepsTheLevelsBetweenTheParts(string bank)
    {
        References.Require(File.Exists(bank), $"{bank} is not installed");
        var (wanted, levels) = (Levels(null), Levels(bank));
        Assert.Equal(wanted.Keys.Order(), levels.Keys.Order());
        var differences = levels.Select(part => (Part: part.Key, Decibels: part.Value - wanted[part.Key])).OrderBy(part => part.Decibels).ToList();
        Assert.All(levels.Values, level => Assert.InRange(level, -60, 0));
        // More than 3 dB only because a thin verse is damped, and the damped strokes of other banks are other sounds.
        Assert.True(
            differences[^1].Decibels - differences[0].Decibels < 3.5,
            string.Join(", ", differences.Select(part => $"{part.Part} {part.Decibels:+0.0;-0.0}")));
    }

    // Loudness of each part in LUFS without the gate (ITU-R BS.1770-5 weighting).
    private static Dictionary<string, double> Levels(string? bank)
    {
        var band = new BarComposer(DemoCommand.Chart(), new ComposerOptions { Bars = Bars, CountIn = false });
        var sounds = Banks.Open(bank);
        return band.Band.ToDictionary(
            part => part.Name,
            part =>
            {
                var sound = StemSound.Render(
                    new BarRoute(band, 0, Bars),
                    Banks.Synth(sounds, Rate, band.Band, dry: true),
                    new EngineOptions { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels },
                    channels => channels.Name == part.Name,
                    limited: false,
                    TestContext.Current.CancellationToken);
                return StemMeasures.Loudness(sound, 0, sound.Seconds);
            });
    }
}
