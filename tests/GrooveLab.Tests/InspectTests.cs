using System.Globalization;
using System.Text;
using System.Text.Json;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>
/// Every preset measured by <c>inspect</c>: all checks pass but those known to miss, and the table in <c>docs/inspect.md</c> matches.
/// <c>GROOVELAB_UPDATE_TABLES=1</c> in the environment rewrites it.
/// </summary>
public sealed class InspectTests : IDisposable
{
    // The sound takes long, so unless the table is rewritten, only some presets are measured.
    private const int SoundEvery = 4;

    // What misses its limit, and the least that it may measure. Whoever mends one takes it out:
    // the test fails as well when one of them holds.
    private static readonly IReadOnlyDictionary<(string Preset, string Check), (double Least, double Most)> KnownMisses = new Dictionary<(string, string), (double, double)>
    {
        // Hammered dulcimers that keep clear of the tune; why their shapes differ so much from group to group is not found yet.
        [("ferry-lanterns-four", "riff four bars apart")] = (75, 80),
        [("waltz-in-one", "riff four bars apart")] = (75, 80),
        // Fingers on a guitar between E3 and E5, nearly all on chord tones.
        [("ten-eight-3-2-2-3", "steps in the roll")] = (7, 9),
        // Where others leave a strum few strings, the rest take other tones of the chord; the choice of shapes does not foresee that.
        [("eleven-eight-2-2-3-2-2", "voicing leaps")] = (10, 13),
        [("five-eight-2-3", "voicing leaps")] = (10, 15),
    };

    private readonly Running _program = new();

    [Fact]
    public void Inspect_EveryPreset_AllChecksHoldButTheKnown_AndTheTableSaysWhatIsMeasured()
    {
        var failed = new List<string>();
        var presets = Running.Presets.Select((path, i) =>
        {
            var ran = MeasuredTable.IsWrittenAnew || i % SoundEvery == 0 ? _program.Run("inspect", path, "--json") : _program.Run("inspect", path, "--json", "--bars-only");
            var checks = Read(ran.Out);
            if (ran.ExitCode != (checks.TrueForAll(check => check.Holds) ? 0 : 1))
            {
                failed.Add($"{Path.GetFileName(path)}: exit code {ran.ExitCode} {ran.Error}");
            }

            return (Name: Path.GetFileNameWithoutExtension(path), Checks: checks);
        }).ToList();
        foreach (var (name, checks) in presets)
        {
            foreach (var check in checks)
            {
                var known = KnownMisses.TryGetValue((name, check.Name), out var range);
                if (known ? check.Holds || check.Value < range.Least || check.Value > range.Most : !check.Holds)
                {
                    failed.Add($"{name}: {check.Name} {check.Value} {check.Unit}{(known && check.Holds ? " holds now" : "")}; {check.Places}");
                }
            }
        }

        Assert.DoesNotContain(KnownMisses.Keys, miss => !presets.Exists(preset => preset.Name == miss.Preset && preset.Checks.Exists(check => check.Name == miss.Check)));
        Assert.Empty(failed);

        new MeasuredTable("inspect.md").Says(Table(presets));
    }

    [Fact]
    public void Inspect_TuneThatHoldsLongerThanAnyBow_SaysSoAndExitsWithOne()
    {
        var chart = _program.Write("long.toml", """
            format = 1
            title = "One long note"
            key = "D dorian"
            tempo = "bar = 60"
            meter = "5/8 3+2"
            [[section]]
            name = "a"
            chords = "| Dm | % | % | % | % | % | % | Dm |"
            [section.tune]
            notes = "| D5:5~ | D5:5~ | D5:5~ | D5:5~ | D5:5~ | D5:5~ | D5:5~ | D5:5 |"
            """);
        var ran = _program.Run("inspect", chart, "--bars-only");
        Assert.Equal("", ran.Error);
        Assert.Equal(1, ran.ExitCode);
        var failed = Assert.Single(ran.Out.Split('\n'), line => line.Contains("\tFAILS\t"));
        Assert.Equal("sustain length", failed.Split('\t')[0].TrimEnd());
        Assert.Contains("1 of ", ran.Out);
    }

    // Once a bug: a tab after cells of different widths.
    [Fact]
    public void Inspect_Piped_ColumnsLineUp()
    {
        var ran = _program.Run("inspect", Running.Presets[0], "--bars-only");

        var rows = ran.Out.Split('\n').Where(line => line.Contains('\t', StringComparison.Ordinal)).Select(line => line.Split('\t')).ToList();
        Assert.InRange(rows.Count, 20, 100);
        Assert.All(rows, row => Assert.Equal(rows[0].SkipLast(1).Select(cell => cell.Length), row.SkipLast(1).Select(cell => cell.Length)));
        Assert.All(rows, row => Assert.Equal(5, row.Length));
    }

    [Fact]
    public void Inspect_BrokenChart_ExitsWithTwo()
    {
        var ran = _program.Run("inspect", _program.Write("bad.toml", "format = 1"));
        Assert.Equal(2, ran.ExitCode);
        Assert.Equal("", ran.Out);
    }

    public void Dispose() => _program.Dispose();

    private static List<Check> Read(string json)
    {
        using var document = JsonDocument.Parse(json);
        return
        [
            .. document.RootElement.GetProperty("checks").EnumerateArray().Select(check => new Check(
                check.GetProperty("name").GetString()!,
                check.GetProperty("value") is { ValueKind: JsonValueKind.Number } value ? value.GetDouble() : null,
                check.GetProperty("unit").GetString()!,
                check.GetProperty("holds").GetBoolean(),
                string.Join("; ", check.GetProperty("places").EnumerateArray().Select(place => place.GetString())))),
        ];
    }

    // One row a check, with the least and the greatest value of all presets; then one row a preset with the values measured in the sound.
    private static string Table(IReadOnlyList<(string Name, List<Check> Checks)> presets)
    {
        string[] shown =
        [
            "voicing movement", "roll patterns", "bass length in beats", "longest bow", "offset deviation", "asynchrony",
            "accent contrast", "accents follow the plan", "loudness between feels", "final ring", "end of the tail",
        ];
        var table = new StringBuilder("\n| check | least | greatest | presets measured |\n|---|---|---|---|\n");
        foreach (var check in presets[0].Checks)
        {
            var values = presets.SelectMany(preset => preset.Checks).Where(other => other.Name == check.Name && other.Value is not null)
                .Select(other => other.Value!.Value).ToList();
            var all = presets.All(preset => preset.Checks.Exists(other => other.Name == check.Name));
            string[] cells = all
                ? [MeasuredTable.Number(values.Count == 0 ? null : values.Min()), MeasuredTable.Number(values.Count == 0 ? null : values.Max()), MeasuredTable.Number(values.Count)]
                : [MeasuredTable.Unmeasured, MeasuredTable.Unmeasured, MeasuredTable.Unmeasured];
            table.Append(CultureInfo.InvariantCulture, $"| {check.Name} ({check.Unit}) | {string.Join(" | ", cells)} |\n");
        }

        table.Append("\n| preset | ").AppendJoin(" | ", shown).Append(" |\n|---").Insert(table.Length, "|---", shown.Length).Append("|\n");
        foreach (var (name, checks) in presets)
        {
            table.Append(CultureInfo.InvariantCulture, $"| {name} | ")
                .AppendJoin(" | ", shown.Select(column => checks.Find(check => check.Name == column) is { } check ? MeasuredTable.Number(check.Value) : MeasuredTable.Unmeasured)).Append(" |\n");
        }

        return table.Append('\n').ToString();
    }

    private sealed record Check(string Name, double? Value, string Unit, bool Holds, string Places);
}
