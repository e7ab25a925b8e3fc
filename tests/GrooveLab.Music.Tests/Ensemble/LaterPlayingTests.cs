using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Tests.Charts;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>Later playings of a section, and felt units. The limits are the project's own.</summary>
public sealed class LaterPlayingTests
{
    // A fifth to half of the bars are others; where bass and sustain are in the way at once, one more.
    [Theory]
    [InlineData(Role.Pulse)]
    [InlineData(Role.Roll)]
    public void BarAt_LaterPlaying_AFewBarsAreOthersAndTheRestIsTheSameNoteForNote(Role role)
    {
        var (differ, all) = (0, 0);
        for (var seed = 1UL; seed <= 6; seed++)
        {
            var chart = Song() with { Seed = seed };
            var first = new Dictionary<(string, int, PartTask), string>();
            foreach (var playing in new Played(chart, new ComposerOptions { CountIn = false }).Form.GroupBy(bar => (bar.Section, bar.Playing)))
            {
                var others = 0;
                var bars = 0;
                foreach (var bar in playing)
                {
                    var part = chart.Parts.ToList().FindIndex(other => other.Role == role);
                    var key = (bar.Section, bar.IndexInSection, bar.Tasks.Tasks[part]);
                    var content = Content(bar, role);
                    if (!first.TryAdd(key, content))
                    {
                        bars++;
                        others += first[key] == content ? 0 : 1;
                    }
                }

                Assert.True(bars < 4 || (others >= bars / 5 && others <= ((bars + 1) / 2) + 1), $"seed {seed}, {playing.Key}: {others} of {bars}");
                (differ, all) = (differ + others, all + bars);
            }
        }

        Assert.True(all > 60 && differ >= 0.2 * all && differ <= 0.5 * all, $"{differ} of {all}");
    }

    // Decibels by the curve of SoundFonts.
    [Theory]
    [InlineData("7/8 2+2+3")]
    [InlineData("6/8")]
    [InlineData("5/4 3+2")]
    public void FeltLevel_Unit_GroupsAreWithinADecibelOfUnitsAndBarsWithinThree(string meter)
    {
        var chart = Song(meter) with { Feel = FeltLevel.Unit, Looseness = 0 };
        foreach (var role in new[] { Role.Pulse, Role.Roll })
        {
            var (groups, bars) = (new List<double>(), new List<double>());
            foreach (var bar in new Played(chart, new ComposerOptions { CountIn = false }).Form)
            {
                var levels = bar.Notes.Where(note => note.Role == role && (note.Onset / bar.Meter.Unit).IsInteger)
                    .GroupBy(note => (int)(note.Onset / bar.Meter.Unit).Numerator)
                    .Select(stroke => (Unit: stroke.Key, Level: 40 * Math.Log10(stroke.Max(note => note.Velocity) / 127.0))).ToList();
                var units = levels.Where(level => !bar.Meter.GroupStartUnits.Contains(level.Unit)).Select(level => level.Level).ToList();
                if (units.Count > 0)
                {
                    groups.AddRange(levels.Where(level => level.Unit > 0 && bar.Meter.GroupStartUnits.Contains(level.Unit)).Select(level => level.Level - units.Average()));
                    bars.AddRange(levels.Where(level => level.Unit == 0).Select(level => level.Level - units.Average()));
                }
            }

            Assert.InRange(groups.Average(), -1, 1);
            Assert.InRange(bars.Average(), 1, 3);
        }
    }

    private static string Content(Bar bar, Role role) => string.Join(' ', bar.Notes.Where(note => note.Role == role)
        .Select(note => $"{note.Onset} {note.Key} {note.Touch}").Order(StringComparer.Ordinal));

    private static Chart Song(string meter = "7/8 2+2+3") => Sheet.Chart(
        Sheet.Section("verse", Sheet.Bars(meter, "Am", "F", "G", "Am", "F", "G", "E7", "Am")),
        Sheet.Section("refrain", Sheet.Bars(meter, "F", "G", "Am", "Am", "Dm7", "G", "E7", "Am"))) with
    {
        Parts = Players.Band(),
        Times = 4,
    };
}
