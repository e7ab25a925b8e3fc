using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Properties of every preset, seen from outside: runs the program as a user does and reads its output.</summary>
public sealed class PresetTests : IDisposable
{
    private readonly Running _program = new();

    public static TheoryData<string> Presets => [.. Running.Presets.Select(path => Path.GetFileNameWithoutExtension(path)!)];

    [Fact]
    public void Check_EveryPreset_Passes()
    {
        var ran = _program.Run(["check", .. Running.Presets]);
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        Assert.True(Running.Presets.Count >= 24);
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Show_EveryBar_ObeysTheRolesRules(string preset)
    {
        var bars = Show(preset);
        var chart = ChartReader.Read(PathOf(preset)).Chart!;
        var roles = bars.SelectMany(bar => bar.Events).Select(note => note.Role).ToHashSet();
        foreach (var bar in bars.Where(bar => !bar.Ending))
        {
            Assert.All(bar.Events, note => Assert.True(note.Onset >= Rational.Zero && note.Onset < bar.Length));
            Assert.All(bar.Events, note => Assert.True(note.Length > Rational.Zero));
            Assert.All(bar.Events, note => Assert.InRange(note.Velocity, 1, 127));
            // A part that rests in a section, or only strikes downbeats, is exempt from the rules for unbroken bars there, and so is one
            // that the arrangement asks to rest.
            var section = chart.Sections.Single(section => section.Name == bar.Section);
            bool Goes(Role role) => roles.Contains(role.Name()) && !bar.Stops && chart.Parts.Any(part => part.Role == role && bar.Tasks[part.Name] != "rests")
                && (section.Playing is not { } playing || playing.Any(part => chart.Parts[part].Role == role));
            if (Goes(Role.Pulse))
            {
                PulseStatesEveryUnit(bar);
            }

            if (Goes(Role.Roll))
            {
                RollHasNoGap(bar);
            }

            if (roles.Contains("count") && !bar.Stops)
            {
                CountClicksOnTheFeltBeats(bar);
            }
        }

        BassIsSparse(bars);
        SustainHoldsLongest(bars);
        // Common practice, no source: all parts end on one ringing downbeat.
        Assert.True(bars[^1].Ending);
        Assert.All(bars[^1].Events, note => Assert.Equal(Rational.Zero, note.Onset));
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Show_SixBars_AreTheFirstOfTwelve(string preset)
    {
        var six = ShowText(preset, "--bars", "6");
        var twelve = ShowText(preset, "--bars", "12");
        Assert.Equal(6, ShownBars.Read(six).Count);
        Assert.Equal(12, ShownBars.Read(twelve).Count);
        Assert.StartsWith(six[..six.LastIndexOf(']')].TrimEnd(), twelve);
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Show_SameSeed_IsTheSame_OtherSeed_IsNot(string preset)
    {
        var first = ShowText(preset, "--seed", "11");
        Assert.Equal(first, ShowText(preset, "--seed", "11"));
        Assert.NotEqual(first, ShowText(preset, "--seed", "12"));
    }

    [Theory]
    [MemberData(nameof(Presets))]
    public void Render_EightBars_HasTheComputedLengthAndIsNeitherSilentNorTooLoud(string preset)
    {
        var shown = ShowText(preset, "--bars", "8");
        var bars = ShownBars.Read(shown);
        var seconds = bars[^1].Start + bars[^1].Seconds;
        var ran = _program.Run("render", PathOf(preset), "-o", "out.wav", "--bars", "8", "--rate", "44100", "--no-count-in");
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        var sound = WaveFile.Read(_program.Path("out.wav"));
        Assert.Equal(44_100, sound.SampleRate);
        Assert.Equal(Frames(0.2 + seconds) + Frames(2), sound.Frames);
        var peak = sound.Samples.Max(Math.Abs);
        Assert.InRange(peak, 0.1, 0.9999);

        // Longer by exactly the lead-in.
        ran = _program.Run("render", PathOf(preset), "-o", "counted.wav", "--bars", "8", "--rate", "44100");
        Assert.Equal(0, ran.ExitCode);
        var leadIn = ShownBars.LeadInSeconds(shown);
        Assert.InRange(WaveFile.Read(_program.Path("counted.wav")).Frames - sound.Frames, Frames(leadIn) - 1, Frames(leadIn) + 1);
    }

    public void Dispose() => _program.Dispose();

    private static long Frames(double seconds) => (long)Math.Round(seconds * 44_100, MidpointRounding.AwayFromZero);

    private static string PathOf(string preset) => Running.Presets.Single(path => Path.GetFileNameWithoutExtension(path) == preset);

    private static void PulseStatesEveryUnit(ShownBar bar)
    {
        var struck = bar.Of("pulse").Select(note => note.Onset).Distinct().Order().ToList();
        var units = Enumerable.Range(0, bar.Units).Select(unit => bar.Unit * unit).ToList();
        Assert.Empty(units.Except(struck));
        if (!bar.Of("pulse").Any(note => bar.Tasks[note.Part] is "fill" or "pickup"))
        {
            Assert.Equal(units, struck);
        }
    }

    // Notes of a roll ring into each other from the downbeat on; never does it fall silent. Off the beats it may, for a unit at most: there a
    // new chord on a beat ends the note before it.
    private static void RollHasNoGap(ShownBar bar)
    {
        foreach (var part in bar.Of("roll").GroupBy(note => note.Part))
        {
            var isOff = bar.Tasks[part.Key] == "off-beats";
            var until = isOff ? part.Min(note => note.Onset) : Rational.Zero;
            var mostSilent = isOff ? bar.Unit : Rational.Zero;
            Assert.True(until <= mostSilent, $"silent until {until} in bar {bar.Index}");
            foreach (var note in part.OrderBy(note => note.Onset))
            {
                Assert.True(note.Onset <= until + mostSilent, $"silent from {until} to {note.Onset} in bar {bar.Index}");
                until = Rational.Max(until, note.Onset + note.Length);
            }

            Assert.True(until + mostSilent >= bar.Length, $"silent from {until} in bar {bar.Index}");
        }
    }

    private static void CountClicksOnTheFeltBeats(ShownBar bar)
    {
        var beats = bar.Feel switch
        {
            "unit" => Enumerable.Range(0, bar.Units).Select(unit => bar.Unit * unit),
            "group" => bar.GroupStarts,
            "bar" => [Rational.Zero],
            _ => bar.FirstOfGroup ? [Rational.Zero] : [],
        };
        Assert.Equal(beats, bar.Of("count").Select(note => note.Onset));
        Assert.All(bar.Of("count"), note => Assert.Equal(0, note.Offset));
        Assert.All(bar.Of("count"), note => Assert.Null(note.Pitch));
    }

    // Common practice, no source: no two bass attacks closer than an eighth, bar lines included.
    private static void BassIsSparse(IReadOnlyList<ShownBar> bars)
    {
        var line = Rational.Zero;
        Rational? before = null;
        foreach (var bar in bars)
        {
            foreach (var note in bar.Of("bass"))
            {
                Assert.True(before is null || line + note.Onset - before.Value >= new Rational(1, 8), $"bar {bar.Index}");
                before = line + note.Onset;
            }

            line += bar.Length;
        }
    }

    // Common practice, no source: the sustained part's mean length is the greatest.
    private static void SustainHoldsLongest(IReadOnlyList<ShownBar> bars)
    {
        var means = bars.Where(bar => !bar.Ending).SelectMany(bar => bar.Events).GroupBy(note => note.Role)
            .ToDictionary(role => role.Key, role => role.Average(note => note.Length.ToDouble()));
        if (means.TryGetValue("sustain", out var sustain))
        {
            Assert.All(means.Where(role => role.Key != "sustain"), role => Assert.True(role.Value < sustain, role.Key));
        }
    }

    private IReadOnlyList<ShownBar> Show(string preset, params string[] more) => ShownBars.Read(ShowText(preset, more));

    private string ShowText(string preset, params string[] more)
    {
        var ran = _program.Run(["show", PathOf(preset), "--json", .. more]);
        Assert.Equal("", ran.Error);
        Assert.Equal(0, ran.ExitCode);
        return ran.Out;
    }
}
