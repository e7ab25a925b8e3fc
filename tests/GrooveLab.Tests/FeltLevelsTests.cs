using System.Globalization;
using System.Text;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>
/// The same eight bars felt at each level: the table in <c>docs/felt-levels.md</c> matches the composed and rendered bars.
/// </summary>
public sealed class FeltLevelsTests : IDisposable
{
    private const string Preset = "seven-eight-2-2-3";
    private const int Bars = 8;

    private static readonly string[] Levels = ["unit", "group", "bar", "bar-group"];

    private readonly Running _program = new();

    /// <summary>Limits: common practice, no source. A listener hears a difference of two decibels, but not one.</summary>
    [Fact]
    public void SameEightBars_FeltAtEachLevel_MoveAccentsAndDensity_KeepOnsetsAndLoudness()
    {
        var felt = Levels.Select(Measure).ToArray();
        new MeasuredTable("felt-levels.md").Says(Table(felt));
        var (unit, group, bar, barGroup) = (felt[0], felt[1], felt[2], felt[3]);

        Assert.Equal([7 * Bars, 3 * Bars, Bars, Bars / 4], felt.Select(level => level.Clicks));
        Assert.All(felt, level => Assert.Equal(7 * Bars, level.Strokes));
        Assert.All(felt, level => Assert.Equal(14 * Bars, level.RollNotes));
        Assert.True(unit.OpenStrokes > group.OpenStrokes && group.OpenStrokes > bar.OpenStrokes && bar.OpenStrokes >= barGroup.OpenStrokes);
        Assert.True(group.BassNotes > bar.BassNotes && bar.BassNotes >= barGroup.BassNotes);
        Assert.True(bar.BassSounding > group.BassSounding + 15);
        // Felt groups stand out from units, felt bars from groups, and felt bar groups from bars.
        Assert.True(group.Level[2] >= group.Level[3] + 2 && group.Level[2] - group.Level[3] > bar.Level[2] - bar.Level[3] + 2);
        Assert.True(bar.Level[1] >= bar.Level[2] + 2 && bar.Level[1] - bar.Level[2] > group.Level[1] - group.Level[2] + 1);
        Assert.True(barGroup.Level[0] >= barGroup.Level[1] + 2 && barGroup.Level[0] - barGroup.Level[1] > bar.Level[0] - bar.Level[1] + 1);
        Assert.InRange(felt.Max(level => level.Loudness) - felt.Min(level => level.Loudness), 0, 1);
    }

    public void Dispose() => _program.Dispose();

    private static string Table(IReadOnlyList<Felt> felt)
    {
        var table = new StringBuilder("| in eight bars | unit | group | bar | bar group |\n|---|---|---|---|---|\n");
        Row("clicks of the count", level => level.Clicks);
        Row("strokes of the pulse", level => level.Strokes);
        Row("strokes left to ring", level => level.OpenStrokes);
        Row("notes of the roll", level => level.RollNotes);
        Row("notes of the bass", level => level.BassNotes);
        Row("bass sounding, % of the time", level => level.BassSounding);
        Row("bows of the cello", level => level.Bows);
        string[] places = ["the first bar line of a bar group", "other bar lines", "other group starts", "other units"];
        for (var i = 0; i < places.Length; i++)
        {
            var place = i;
            Row($"velocity of the pulse on {places[i]}", level => level.Velocity[place]);
        }

        for (var i = 0; i < places.Length; i++)
        {
            var place = i;
            Row($"measured level on {places[i]}, dB", level => level.Level[place]);
        }

        Row("overall loudness, LUFS", level => level.Loudness);
        return table.ToString();

        void Row(string what, Func<Felt, double> value) =>
            table.Append(CultureInfo.InvariantCulture, $"| {what} | {string.Join(" | ", felt.Select(level => MeasuredTable.Number(value(level))))} |\n");
    }

    private Felt Measure(string level)
    {
        // Plain, so that the first bars are not thin and the last do not fill.
        var preset = File.ReadAllText(Path.Combine(Running.Checkout(), "presets", Preset + ".toml"));
        var path = _program.Write("plain.toml", preset.Replace("\nseed = ", "\narrangement = \"none\"\nseed = ", StringComparison.Ordinal));
        var bars = ShownBars.Read(_program.Run("show", path, "--json", "--bars", $"{Bars}", "--feel", level).Out);
        var ran = _program.Run("render", path, "-o", level + ".wav", "--bars", $"{Bars}", "--feel", level, "--dry", "--no-count-in", "--without", "tune,count");
        Assert.Equal("", ran.Error);
        var wave = WaveFile.Read(_program.Path(level + ".wav"));
        var sound = new StemSound([.. wave.Samples.Where((_, i) => i % 2 == 0)], [.. wave.Samples.Where((_, i) => i % 2 == 1)], wave.SampleRate);
        var places = Enumerable.Range(0, 4).Select(_ => (Velocities: new List<double>(), Levels: new List<double>())).ToArray();
        foreach (var bar in bars)
        {
            for (var unit = 0; unit < bar.Units; unit++)
            {
                var at = bar.Unit * unit;
                var place = at == Rational.Zero ? (bar.FirstOfGroup ? 0 : 1) : bar.GroupStarts.Contains(at) ? 2 : 3;
                places[place].Velocities.Add(bar.Of("pulse").Where(note => note.Onset == at).Average(note => note.Velocity));
                places[place].Levels.Add(StemMeasures.Attack(sound, 0.2 + bar.Start + (bar.Seconds * (at / bar.Length).ToDouble())));
            }
        }

        var last = bars[^1];
        return new Felt(
            bars.Sum(bar => bar.Of("count").Count()),
            bars.Sum(bar => Strokes(bar).Count()),
            bars.Sum(bar => Strokes(bar).Count(stroke => !stroke.First().Damped)),
            bars.Sum(bar => bar.Of("roll").Count()),
            bars.Sum(bar => bar.Of("bass").Count()),
            100 * bars.Sum(bar => bar.Of("bass").Sum(note => note.Length.ToDouble())) / bars.Sum(bar => bar.Length.ToDouble()),
            bars.Sum(bar => bar.Of("sustain").Select(note => note.Onset).Distinct().Count()),
            [.. places.Select(place => place.Velocities.Average())],
            [.. places.Select(place => place.Levels.Average())],
            StemMeasures.Loudness(sound, 0.2, 0.2 + last.Start + last.Seconds));
    }

    private static IEnumerable<IGrouping<Rational, ShownEvent>> Strokes(ShownBar bar) => bar.Of("pulse").GroupBy(note => note.Onset);

    private sealed record Felt(
        int Clicks, int Strokes, int OpenStrokes, int RollNotes, int BassNotes, double BassSounding, int Bows, double[] Velocity, double[] Level, double Loudness);
}
