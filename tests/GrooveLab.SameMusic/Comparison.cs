using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using GrooveLab.SameMusic.Charts;
using GrooveLab.SameMusic.Live;
using GrooveLab.SameMusic.Outputs;

namespace GrooveLab.SameMusic;

/// <summary>Compares everything that two builds play, and writes the result.</summary>
internal sealed class Comparison(Settings settings)
{
    private const string Presets = "presets and the demo";
    private const string NewText = "presets whose text has changed, in the new text";
    private const string Random = "random charts";
    private const string Live = "live changes";
    private const string Demo = "src/GrooveLab.Exchange/Charts/Demo/ferry-lanterns.toml";
    private const double SecondsPerChange = 0.3;

    // Each is tried on some of the charts, in turn.
    private static readonly string[][] Options =
    [
        ["--seed", "7"], ["--feel", "bar"], ["--tempo", "80%"], ["--feel", "unit"], ["--up", "3"], ["--bars", "40"], ["--feel", "bar-group"],
        ["--seed", "18446744073709551615"], ["--key", "E"], ["--feel", "group"], ["--tempo", "130%"],
    ];

    private readonly Build _base = new("base", settings.BaseProgram, settings.BaseTool, Path.Combine(settings.Work, "out-base"));
    private readonly Build _now = new("current", settings.CurrentProgram, settings.CurrentTool, Path.Combine(settings.Work, "out-current"));
    private readonly Stopwatch _watch = Stopwatch.StartNew();
    private readonly ConcurrentBag<Compared> _results = [];
    private readonly ConcurrentBag<string> _added = [];
    private readonly ConcurrentBag<(string Chart, LiveComparison Comparison)> _performances = [];
    private readonly List<string> _notes = [];
    private bool _plantedLiveFound;

    /// <summary>Compares; 0 when all differences are allowed, 1 when one is not, 3 when the comparison fails.</summary>
    public int Run()
    {
        try
        {
            return Compare();
        }
        catch (Exception failure) when (failure is InvalidOperationException or AggregateException { InnerException: InvalidOperationException })
        {
            Console.Error.WriteLine("same-music: " + (failure.InnerException ?? failure).Message);
            return 3;
        }
    }

    private int Compare()
    {
        var presets = PresetCharts();
        var first = presets[0].BaseFile;

        // Each build makes its own sounds once, before two of its processes could do so in parallel.
        Parallel.Invoke(() => Warm(_base, first), () => Warm(_now, first));
        var random = RandomCharts(out var rejected);
        Say($"{presets.Count(chart => chart.Group == Presets)} presets, {random.Count} random charts ({rejected} more were rejected by the base's check)");

        var charts = random.Select(chart => (Chart: new ChartOutputs.Chart(Random, chart.FileName, FileOf(chart), FileOf(chart)), chart.Features)).ToList();
        List<Action> jobs = [.. LiveJobs(presets, random)];
        jobs.AddRange(presets.Index().Select(preset => (Action)(() => Compare(preset.Item, preset.Index, whole: true))));
        jobs.AddRange(charts.Index().Select(chart => (Action)(() => Compare(chart.Item.Chart, chart.Index, whole: chart.Index % 4 == 0))));
        var done = 0;
        Parallel.ForEach(
            Partitioner.Create(jobs, EnumerablePartitionerOptions.NoBuffering),
            new ParallelOptions { MaxDegreeOfParallelism = settings.Jobs },
            job =>
            {
                job();
                if (Interlocked.Increment(ref done) % 20 == 0)
                {
                    Say($"{done} of {jobs.Count} done, {_results.Count(result => result.Verdict == Verdict.Different)} outputs differ");
                }
            });
        CompareSounds();
        List<(string What, bool Found)> planted =
        [
            .. PlantedDifferences.Try(_now, first),
            ("one change of a performance left out", _plantedLiveFound),
        ];
        var missing = Enum.GetValues<ChartFeature>().Where(feature => !random.Exists(chart => chart.Features.Contains(feature))).ToList();
        var changes = _performances.Sum(performance => performance.Comparison.Changes.Count);
        var passed = changes >= settings.Changes && missing.Count == 0 && planted.TrueForAll(one => one.Found) && !_results.Any(result => result.Verdict == Verdict.Different);
        var report = new Report(settings, [.. _results], [.. _added.Distinct().Order(StringComparer.Ordinal)], [.. _performances], random, rejected)
        {
            Planted = planted,
            Notes = _notes,
            Base = _base,
            Current = _now,
            Took = _watch.Elapsed,
            Passed = passed,
        };
        File.WriteAllText(settings.Report, report.Write());
        foreach (var line in report.Differences())
        {
            Say(line);
        }

        foreach (var feature in missing)
        {
            Say($"no random chart contains {Report.NameOf(feature)}");
        }

        if (changes < settings.Changes)
        {
            Say($"only {changes} of {settings.Changes} live changes were made");
        }

        foreach (var (what, _) in planted.Where(one => !one.Found))
        {
            Say($"planted and not found: {what}");
        }

        Say($"{(passed ? "the same music" : "NOT the same music")}: {_results.Count} outputs compared in {_watch.Elapsed.TotalMinutes:0.0} minutes");
        return passed ? 0 : 1;
    }

    private static void Say(string line) => Console.WriteLine(line);

    private static void Warm(Build build, string chart)
    {
        var run = build.Run("render", chart, "-o", build.PathOf("first.wav"), "--force", "--bars", "1");
        if (run.Code != 0)
        {
            throw new InvalidOperationException($"the {build.Name} program fails: {run.Errors}");
        }

        build.Sounds();
    }

    private string FileOf(RandomChart chart) => Path.GetFullPath(Path.Combine(settings.Work, "charts", chart.FileName));

    // The base's presets for both; and if a preset has changed, also the new text for the current program.
    private List<ChartOutputs.Chart> PresetCharts()
    {
        string Full(string tree, string file) => Path.GetFullPath(Path.Combine(tree, file));
        List<string> Files(string tree) => [.. Directory.GetFiles(Path.Combine(tree, "presets"), "*.toml").Select(file => "presets/" + Path.GetFileName(file)).Order(StringComparer.Ordinal)];
        var there = Files(settings.BaseTree);
        var here = Files(settings.CurrentTree);
        var charts = new List<ChartOutputs.Chart>();
        foreach (var file in there.Append(Demo).Where(file => File.Exists(Full(settings.BaseTree, file))))
        {
            var (before, now) = (Full(settings.BaseTree, file), Full(settings.CurrentTree, file));
            charts.Add(new ChartOutputs.Chart(Presets, Path.GetFileName(file), before, before));
            if (!File.Exists(now))
            {
                _results.Add(Compared.Judge(
                    NewText, OutputKind.Json, Path.GetFileName(file), Path.GetFileName(file), [new Difference("file", "the chart's file", "there", "gone")]));
            }
            else if (File.ReadAllText(before) != File.ReadAllText(now))
            {
                charts.Add(new ChartOutputs.Chart(NewText, "now-" + Path.GetFileName(file), before, now));
            }
        }

        var added = here.Except(there).ToList();
        if (added.Count > 0)
        {
            _notes.Add($"New presets, which the base has nothing to compare with: {string.Join(", ", added.Select(file => Path.GetFileName(file)))}.");
        }

        return charts;
    }

    private List<RandomChart> RandomCharts(out int rejected)
    {
        var folder = Path.GetFullPath(Path.Combine(settings.Work, "charts"));
        Directory.CreateDirectory(folder);
        File.WriteAllText(Path.Combine(folder, "instruments.toml"), RandomChart.OwnInstruments);
        List<RandomChart> accepted = [];
        rejected = 0;
        for (var number = 1; accepted.Count < settings.Charts;)
        {
            var batch = Enumerable.Range(number, settings.Charts - accepted.Count).Select(one => ChartGenerator.Draw(one, (ulong)settings.Seed)).ToList();
            number += batch.Count;
            foreach (var chart in batch)
            {
                File.WriteAllText(FileOf(chart), chart.Text);
            }

            var good = _base.Run([.. batch.Select(FileOf).Prepend("check")]).Code == 0
                ? batch
                : [.. batch.AsParallel().AsOrdered().WithDegreeOfParallelism(settings.Jobs).Where(chart => _base.Run("check", FileOf(chart)).Code == 0)];
            accepted.AddRange(good);
            rejected += batch.Count - good.Count;
            if (good.Count * 2 < batch.Count)
            {
                throw new InvalidOperationException($"the base rejects {batch.Count - good.Count} of {batch.Count} random charts: {_base.Run("check", FileOf(batch.Except(good).First())).Errors}");
            }
        }

        return accepted;
    }

    private void Compare(ChartOutputs.Chart chart, int number, bool whole)
    {
        var outputs = new ChartOutputs(_base, _now);
        var options = Options[number % Options.Length];
        if (chart.Group == NewText)
        {
            // Its old text is compared in full; here only its meaning.
            outputs.Json(chart);
            outputs.Midi(chart, exact: false);
            outputs.Render(chart, "--bars", "8");
            Keep(outputs);
            return;
        }

        outputs.Json(chart);
        outputs.Json(chart, options);
        outputs.Midi(chart, exact: false);
        outputs.Midi(chart, exact: true);
        if (number % 2 == 0)
        {
            outputs.Midi(chart, exact: number % 4 == 0, options);
        }

        outputs.Render(chart, whole ? [] : ["--bars", "16"]);
        if (number % 3 == 0)
        {
            outputs.Render(chart, options[0] == "--bars" ? ["--bars", "6", "--rate", "44100"] : [.. options, "--bars", "6", "--no-count-in"]);
        }

        if (number % 5 == 0)
        {
            outputs.Stems(chart, "--bars", "8", "--dry");
        }

        Keep(outputs);
    }

    private void Keep(ChartOutputs outputs)
    {
        outputs.Results.ForEach(_results.Add);
        foreach (var member in outputs.Added)
        {
            _added.Add(member);
        }
    }

    // The demo's song with most of the changes, then charts with odd bars, vamps and holds.
    private IEnumerable<Action> LiveJobs(List<ChartOutputs.Chart> presets, List<RandomChart> random)
    {
        string Preset(string name) => presets.Find(chart => chart.Name == name)?.BaseFile
            ?? throw new InvalidOperationException($"the base has no preset {name}");
        yield return () => ComparePerformance("ferry-lanterns-five.toml", Preset("ferry-lanterns-five.toml"), settings.Changes, settings.Seed);
        var less = Math.Max(1, settings.Changes / 5);
        yield return () => ComparePerformance("crooked-tune.toml", Preset("crooked-tune.toml"), less, settings.Seed + 1, tryOmission: true);
        yield return () => ComparePerformance("five-eight-seven-eight.toml", Preset("five-eight-seven-eight.toml"), less, settings.Seed + 2);
        ChartFeature[] wanted = [ChartFeature.Vamp, ChartFeature.Hold, ChartFeature.Ramp, ChartFeature.Tag];
        var played = new HashSet<RandomChart>();
        foreach (var (number, feature) in wanted.Index())
        {
            if (random.Find(chart => chart.Features.Contains(feature) && chart.Features.Contains(ChartFeature.OwnBand) && !played.Contains(chart)) is { } chart)
            {
                played.Add(chart);
                yield return () => ComparePerformance(chart.FileName, FileOf(chart), less, settings.Seed + 3 + number);
            }
        }
    }

    private void ComparePerformance(string name, string chart, int changes, int seed, bool tryOmission = false)
    {
        string Text(int number) => number.ToString(CultureInfo.InvariantCulture);
        var (from, to) = (_base.PathOf("live-" + name), _now.PathOf("live-" + name));
        var seconds = (int)Math.Ceiling(changes * SecondsPerChange);
        var drawn = _base.RunLive("draw", "--chart", chart, "--out", from, "--changes", Text(changes), "--seconds", Text(seconds), "--seed", Text(seed));
        if (drawn.Code != 0)
        {
            throw new InvalidOperationException($"the base cannot be played live: {drawn.Errors}");
        }

        var performed = _now.RunLive("perform", "--chart", chart, "--from", from, "--out", to);
        if (performed.Code != 0)
        {
            _results.Add(Compared.Judge(Live, OutputKind.LiveChanges, name, name, [new Difference("exit", "performing", "played", performed.Errors)]));
            return;
        }

        var comparison = LiveComparison.Of(from, to, LiveSide.Rate);
        _performances.Add((name, comparison));
        _results.Add(Compared.Judge(Live, OutputKind.LiveChanges, name, $"{name}, {comparison.Changes.Count} changes", comparison.Music));
        _results.Add(Compared.Judge(Live, OutputKind.Replay, name, $"{name}, replayed from the base's log", comparison.Replay));
        _results.Add(Compared.Judge(Live, OutputKind.Log, name, $"{name}, the log", comparison.Log));
        if (tryOmission)
        {
            TryOmission(chart, from);
        }
    }

    // A change of tempo is audible whatever else changes.
    private void TryOmission(string chart, string from)
    {
        var changes = File.ReadAllLines(Path.Combine(from, LiveCommands.Changes)).Select(ScriptedChange.Parse).ToList();
        var omitted = changes.FindIndex(changes.Count / 2, change => change.Words.StartsWith("tempo ", StringComparison.Ordinal));
        var to = _now.PathOf("live-omitted");
        var run = _now.RunLive("perform", "--chart", chart, "--from", from, "--out", to, "--omit", omitted.ToString(CultureInfo.InvariantCulture));
        _plantedLiveFound = omitted >= 0 && run.Code == 0
            && LiveComparison.Of(from, to, LiveSide.Rate).Music.FirstOrDefault(difference => difference.Path == "samples") is { } found
            && int.Parse(found.Where.Split(' ')[1], CultureInfo.InvariantCulture) >= changes[omitted].Frame / LiveSide.Rate;
    }

    private void CompareSounds()
    {
        var (before, now) = (_base.Sounds(), _now.Sounds());
        _notes.Add($"Each build made its own sounds in a folder of its own: {before.Name} in the base, {now.Name} now; SHA-256 {RunResult.HashOf(before.Bytes)} and {RunResult.HashOf(now.Bytes)}.");
        _results.Add(Compared.Judge(
            "built-in sounds",
            OutputKind.Sounds,
            "bank",
            "the bank",
            before.Bytes.AsSpan().SequenceEqual(now.Bytes)
                ? []
                : [new Difference(string.Empty, "the bank of sounds", RunResult.HashOf(before.Bytes), RunResult.HashOf(now.Bytes))]));
    }
}
