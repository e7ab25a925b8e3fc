using System.Globalization;
using System.Text;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>A plain classifier of onset profiles names the felt level of every preset from four bars without clicks.</summary>
public sealed class FeltLevelListenerTests : IDisposable
{
    private const int Bars = 4;

    /// <summary>Group starts that far above the units are felt, in decibels. Half-way between the plan for felt units (1, and 2 more for a
    /// stroke down against one up) and for felt groups (6 and 2 more).</summary>
    private const double FeltGroups = 6;

    /// <summary>A bar line that far above the units is felt, in decibels: half-way between the plan for felt units (3 and 2 more) and for felt
    /// bars (8 and 2 more).</summary>
    private const double FeltBars = 7.5;

    private static readonly string[] Levels = ["unit", "group", "bar", "bar-group"];

    private readonly Running _program = new();

    // The project's own measure: eight times in ten, for each level.
    [Fact]
    public void EveryPreset_FeltAtEachLevel_IsNamedEightTimesInTen()
    {
        var named = Levels.ToDictionary(level => level, _ => new Dictionary<string, int>());
        var right = Levels.ToDictionary(level => level, _ => 0);
        var wrong = new List<string>();
        var presets = Directory.GetFiles(Path.Combine(Running.Checkout(), "presets"), "*.toml").Order(StringComparer.Ordinal).ToList();
        foreach (var preset in presets)
        {
            foreach (var level in Levels)
            {
                var all = ShownBars.Read(_program.Run("show", preset, "--json", "--bars", "24", "--feel", level).Out);
                var first = Enumerable.Range(0, all.Count).First(bar => all[bar].FirstOfGroup && !all.Skip(bar).Take(Bars).Any(other => other.Stops || !other.Of("pulse").Any()));
                var bars = all.Skip(first).Take(Bars).ToList();
                var profile = Profile.Of(bars);
                var name = profile.Name();
                named[level][name] = named[level].GetValueOrDefault(name) + 1;
                if (Same(bars, level, name))
                {
                    right[level]++;
                }
                else
                {
                    wrong.Add($"{Path.GetFileNameWithoutExtension(preset)} felt {level}, heard {name}: {profile}");
                }
            }
        }

        var table = new StringBuilder("| felt | named right | heard as unit | group | bar | bar group |\n|---|---|---|---|---|---|\n");
        foreach (var level in Levels)
        {
            table.Append(CultureInfo.InvariantCulture, $"| {level.Replace('-', ' ')} | {right[level]} of {presets.Count} |")
                .Append(string.Concat(Levels.Select(heard => string.Create(CultureInfo.InvariantCulture, $" {named[level].GetValueOrDefault(heard)} |")))).Append('\n');
        }

        TestContext.Current.TestOutputHelper?.WriteLine(table + string.Join('\n', wrong));
        Assert.All(Levels, level => Assert.True(right[level] >= 0.8 * presets.Count, $"{level}: {right[level]} of {presets.Count}\n{string.Join('\n', wrong)}"));
        new MeasuredTable("felt-levels.md", "told apart").Says(table.ToString());
    }

    public void Dispose() => _program.Dispose();

    // In bars of one group, groups are bars; where every bar is a group of bars, these are bars too; groups of one unit are units.
    private static bool Same(IReadOnlyList<ShownBar> bars, string level, string name)
    {
        var one = Signs(level);
        var two = Signs(name);
        return one.SetEquals(two);

        HashSet<(int, Rational)> Signs(string felt) => [.. bars.SelectMany((bar, i) => felt switch
        {
            "unit" => Enumerable.Range(0, bar.Units).Select(unit => (i, bar.Unit * unit)),
            "group" => bar.GroupStarts.Select(start => (i, start)),
            "bar" => [(i, Rational.Zero)],
            _ => bar.FirstOfGroup ? [(i, Rational.Zero)] : [],
        })];
    }

    private sealed record Profile(double? BarGroup, double? Bar, double? Group, double? Unit)
    {
        public static Profile Of(IReadOnlyList<ShownBar> bars)
        {
            var places = Enumerable.Range(0, 4).Select(_ => new List<double>()).ToArray();
            foreach (var bar in bars)
            {
                for (var unit = 0; unit < bar.Units; unit++)
                {
                    var at = bar.Unit * unit;
                    var energy = bar.Events.Where(note => note.Role is "pulse" or "roll" && note.Onset == at).Sum(note => Math.Pow(note.Velocity / 127.0, 4));
                    if (energy > 0)
                    {
                        places[at == Rational.Zero ? (bar.FirstOfGroup ? 0 : 1) : bar.GroupStarts.Contains(at) ? 2 : 3].Add(10 * Math.Log10(energy));
                    }
                }
            }

            return new Profile(Mean(places[0]), Mean(places[1]), Mean(places[2]), Mean(places[3]));
        }

        public string Name()
        {
            // Without other units the group starts are what bar lines stand out from.
            var ground = Unit ?? Group ?? Bar ?? 0;
            return Unit is { } unit && Group - unit >= FeltGroups ? "group"
                : (Bar ?? BarGroup) - ground >= FeltBars ? "bar"
                : BarGroup - ground >= FeltBars ? "bar-group"
                : "unit";
        }

        public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{BarGroup:0.0} {Bar:0.0} {Group:0.0} {Unit:0.0}");

        private static double? Mean(List<double> levels) => levels.Count == 0 ? null : levels.Average();
    }
}
