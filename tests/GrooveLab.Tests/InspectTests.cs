using System.Globalization;
using System.Text;
using System.Text.Json;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>
/// Every preset measured by <c>inspect</c>: all checks hold, and the table in <c>docs/inspect.md</c> is what is measured; environment
/// <c>GROOVELAB_UPDATE_TABLES=1</c> writes it anew.
/// </summary>
public sealed class InspectTests : IDisposable
{
    private const string Begin = "<!-- measured: begin -->", End = "<!-- measured: end -->";

    // Mathematical functions differ a little from machine to machine, and sums of thousands of samples with them.
    private const double Tolerance = 0.06;

    // Sound takes long: when the table is not written anew, it is measured for some presets.
    private const int SoundEvery = 11;

    // A cell that was not measured this time.
    private const string Unmeasured = "?";

    private readonly Running _program = new();

    [Fact]
    public void Inspect_EveryPreset_AllChecksHold_AndTheTableSaysWhatIsMeasured()
    {
        var file = Path.Combine(Running.Checkout(), "docs", "inspect.md");
        var text = File.ReadAllText(file);
        var from = text.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length;
        var to = text.IndexOf(End, StringComparison.Ordinal);
        var failed = new List<string>();
        var update = Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1";
        var presets = Running.Presets.Select((path, i) =>
        {
            var ran = update || i % SoundEvery == 0 ? _program.Run("inspect", path, "--json") : _program.Run("inspect", path, "--json", "--bars-only");
            if (ran.ExitCode != 0)
            {
                failed.Add($"{Path.GetFileName(path)}: exit code {ran.ExitCode} {ran.Error}");
            }

            return (Name: Path.GetFileNameWithoutExtension(path), Checks: Read(ran.Out));
        }).ToList();
        failed.AddRange(presets.SelectMany(preset => preset.Checks.Where(check => !check.Holds)
            .Select(check => $"{preset.Name}: {check.Name} {check.Value} {check.Unit}; {check.Places}")));
        Assert.Empty(failed);

        if (update)
        {
            File.WriteAllText(file, text[..from] + "\n" + Table(presets) + text[to..]);
            return;
        }

        var said = Rows(text[from..to]);
        var found = Rows(Table(presets));
        Assert.Equal(found.Count, said.Count);
        foreach (var (s, f) in said.Zip(found))
        {
            Assert.Equal(f.Length, s.Length);
            Assert.All(s.Zip(f), cell => Assert.True(Agree(cell.First, cell.Second), $"said {cell.First}, measured {cell.Second}: {string.Join(" | ", f)}"));
        }
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
        Assert.StartsWith("sustain's length\t", failed);
        Assert.Contains("1 of ", ran.Out);
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

    // One row a check, and for every check the least and the greatest of all presets; then one row a preset for what is measured in sound.
    private static string Table(IReadOnlyList<(string Name, List<Check> Checks)> presets)
    {
        string[] shown =
        [
            "voicing movement", "roll patterns", "bass sounding in beats", "longest bow", "offsets' deviation", "asynchrony",
            "accent contrast", "accents follow the plan", "loudness between feels", "final ring", "end of the tail",
        ];
        var table = new StringBuilder("\n| check | least | greatest | presets measured |\n|---|---|---|---|\n");
        foreach (var check in presets[0].Checks)
        {
            var values = presets.SelectMany(preset => preset.Checks).Where(other => other.Name == check.Name && other.Value is not null)
                .Select(other => other.Value!.Value).ToList();
            var all = presets.All(preset => preset.Checks.Exists(other => other.Name == check.Name));
            string[] cells = all
                ? [Number(values.Count == 0 ? null : values.Min()), Number(values.Count == 0 ? null : values.Max()), Number(values.Count)]
                : [Unmeasured, Unmeasured, Unmeasured];
            table.Append(CultureInfo.InvariantCulture, $"| {check.Name} ({check.Unit}) | {string.Join(" | ", cells)} |\n");
        }

        table.Append("\n| preset | ").AppendJoin(" | ", shown).Append(" |\n|---").Insert(table.Length, "|---", shown.Length).Append("|\n");
        foreach (var (name, checks) in presets)
        {
            table.Append(CultureInfo.InvariantCulture, $"| {name} | ")
                .AppendJoin(" | ", shown.Select(column => checks.Find(check => check.Name == column) is { } check ? Number(check.Value) : Unmeasured)).Append(" |\n");
        }

        return table.Append('\n').ToString();
    }

    private static string Number(double? value) => value is { } number ? number.ToString("0.##", CultureInfo.InvariantCulture) : "-";

    private static List<string[]> Rows(string table) =>
    [
        .. table.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)
            .Select(row => row.Split('|', StringSplitOptions.TrimEntries)),
    ];

    private static bool Agree(string said, string measured) =>
        double.TryParse(said, CultureInfo.InvariantCulture, out var a) && double.TryParse(measured, CultureInfo.InvariantCulture, out var b)
            ? Math.Abs(a - b) <= Tolerance + (Tolerance * Math.Abs(b))
            : measured == Unmeasured || said == measured;

    private sealed record Check(string Name, double? Value, string Unit, bool Holds, string Places);
}
