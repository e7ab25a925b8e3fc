using System.Text.Json;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>Makes the outputs of a chart with both builds and compares them.</summary>
/// <param name="before">The base.</param>
/// <param name="now">The current program.</param>
internal sealed class ChartOutputs(Build before, Build now)
{
    // Every render has this much silence before the count-in.
    private const double PreRollSeconds = 0.2;

    /// <summary>A chart to compare.</summary>
    /// <param name="Group">The row of the result in which it is counted.</param>
    /// <param name="Name">Its name.</param>
    /// <param name="BaseFile">The file that the base reads.</param>
    /// <param name="CurrentFile">The file that the current program reads.</param>
    public sealed record Chart(string Group, string Name, string BaseFile, string CurrentFile);

    /// <summary>The results of comparing a chart's outputs.</summary>
    public List<Compared> Results { get; } = [];

    /// <summary>The members in the current program's JSON but not in the base's.</summary>
    public SortedSet<string> Added { get; } = new(StringComparer.Ordinal);

    /// <summary>Compares renders.</summary>
    public void Render(Chart chart, params string[] options)
    {
        string Wave(Build build) => build.PathOf(chart.Name + ".wav");
        var runs = Both(chart, (build, file) => ["render", file, "-o", Wave(build), "--force", .. options]);
        Judge(OutputKind.Render, chart, options, runs, () =>
            WaveComparison.Of(Bytes(Wave(before)), Bytes(Wave(now)), second => BarAt(chart, options, second)) is { } difference ? [difference] : []);
        File.Delete(Wave(before));
        File.Delete(Wave(now));
    }

    /// <summary>Compares the parts' own files, and their mix.</summary>
    public void Stems(Chart chart, params string[] options)
    {
        string Stems(Build build) => build.PathOf(chart.Name + "-stems");
        string Mix(Build build) => build.PathOf(chart.Name + "-mix.wav");
        var runs = Both(chart, (build, file) =>
            ["render", file, "-o", Mix(build), "--stems", Stems(build), "--force", .. options]);
        Judge(OutputKind.Stems, chart, options, runs, () =>
        {
            List<string> Files(Build build) => [.. Directory.GetFiles(Stems(build)).Select(file => Path.GetFileName(file)).Order(StringComparer.Ordinal), Mix(build)];
            var (files, others) = (Files(before), Files(now));
            return files.SkipLast(1).SequenceEqual(others.SkipLast(1))
                ? files.Zip(others)
                    .Select(pair => WaveComparison.Of(
                        Bytes(Path.Combine(Stems(before), pair.First)), Bytes(Path.Combine(Stems(now), pair.Second)), second => BarAt(chart, options, second))
                        is { } difference ? difference with { Where = $"{Path.GetFileName(pair.First)}, {difference.Where}" } : null)
                    .OfType<Difference>()
                : [new Difference("files", "the stems", string.Join(", ", files.SkipLast(1)), string.Join(", ", others.SkipLast(1)))];
        });
        File.Delete(Mix(before));
        File.Delete(Mix(now));
        foreach (var folder in new[] { Stems(before), Stems(now) }.Where(Directory.Exists))
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>Compares the bars as JSON.</summary>
    public void Json(Chart chart, params string[] options)
    {
        var runs = Both(chart, (_, file) => ["show", file, "--json", .. options]);
        Judge(OutputKind.Json, chart, options, runs, () =>
        {
            var comparison = JsonComparison.Of(runs.Before.Output, runs.Now.Output);
            Added.UnionWith(comparison.Added);
            return comparison.Differences;
        });
    }

    /// <summary>Compares MIDI files.</summary>
    public void Midi(Chart chart, bool exact, params string[] options)
    {
        var all = exact ? [.. options, "--exact"] : options;
        string File(Build build) => build.PathOf(chart.Name + ".mid");
        var runs = Both(chart, (build, file) => ["export", file, "-o", File(build), "--force", .. all]);
        Judge(exact ? OutputKind.ExactMidi : OutputKind.Midi, chart, options, runs, () =>
            MidiComparison.Of(Bytes(File(before)), Bytes(File(now))) is { } difference ? [difference] : []);
        System.IO.File.Delete(File(before));
        System.IO.File.Delete(File(now));
    }

    private static byte[] Bytes(string file) => File.ReadAllBytes(file);

    private (RunResult Before, RunResult Now) Both(Chart chart, Func<Build, string, string[]> words) =>
        (before.Run(words(before, chart.BaseFile)), now.Run(words(now, chart.CurrentFile)));

    private void Judge(
        OutputKind kind, Chart chart, string[] options, (RunResult Before, RunResult Now) runs, Func<IEnumerable<Difference>> differences)
    {
        var of = string.Join(' ', options.Prepend(chart.Name));

        // An output that both fail to make proves nothing, so it is not a success.
        var found = runs is { Before.Code: 0, Now.Code: 0 }
            ? differences()
            : [new Difference("exit", "exit code", $"{runs.Before.Code} {runs.Before.Errors}".Trim(), $"{runs.Now.Code} {runs.Now.Errors}".Trim())];
        Results.Add(Compared.Judge(chart.Group, kind, chart.Name, of, found));
    }

    // Needed only for a render that differs.
    private string BarAt(Chart chart, string[] options, double second)
    {
        string[] known = ["--bars", "--seed", "--feel", "--tempo", "--up", "--key"];
        var asked = options.Index().Where(word => known.Contains(word.Item)).SelectMany(word => new[] { word.Item, options[word.Index + 1] });
        using var shown = JsonDocument.Parse(before.Run(["show", chart.BaseFile, "--json", .. asked]).Output);
        var lead = !options.Contains("--no-count-in") && shown.RootElement.TryGetProperty("leadIn", out var leadIn)
            ? leadIn.GetProperty("length").GetDouble()
            : 0;
        var at = second - PreRollSeconds - lead;
        var bar = shown.RootElement.GetProperty("bars").EnumerateArray()
            .LastOrDefault(bar => bar.GetProperty("start").GetDouble() <= at);
        return bar.ValueKind == JsonValueKind.Undefined ? "before the first bar" : $"bar {bar.GetProperty("index").GetInt32() + 1} ({bar.GetProperty("section")})";
    }
}
