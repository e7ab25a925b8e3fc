using System.Globalization;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using System.Text;
using System.Text.RegularExpressions;
using GrooveLab.SameMusic.Charts;
using GrooveLab.SameMusic.Live;
using GrooveLab.SameMusic.Outputs;

namespace GrooveLab.SameMusic;

/// <summary>The result as a text page.</summary>
internal sealed partial class Report(
    Settings settings,
    IReadOnlyList<Compared> results,
    IReadOnlyList<string> added,
    IReadOnlyList<(string Chart, LiveComparison Comparison)> performances,
    IReadOnlyList<RandomChart> random,
    int rejected)
{
    private const int MostShown = 12;
    private const int MostOfOne = 3;

    private static readonly Dictionary<OutputKind, string> Names = new()
    {
        [OutputKind.Render] = "renders (WAV)",
        [OutputKind.Stems] = "stems (WAV)",
        [OutputKind.Json] = "`show --json`",
        [OutputKind.Midi] = "`export` (MIDI)",
        [OutputKind.ExactMidi] = "`export --exact` (MIDI)",
        [OutputKind.Sounds] = "the bank of samples",
        [OutputKind.LiveChanges] = "scripted changes, made again on the same frames",
        [OutputKind.Replay] = "the base's log, replayed",
        [OutputKind.Log] = "logs, apart from wording",
    };

    public required IReadOnlyList<(string What, bool Found)> Planted { get; init; }

    public required IReadOnlyList<string> Notes { get; init; }

    public required Build Base { get; init; }

    public required Build Current { get; init; }

    public required TimeSpan Took { get; init; }

    public required bool Passed { get; init; }

    /// <summary>The readable name of a feature.</summary>
    public static string NameOf(ChartFeature feature) => Capital().Replace(feature.ToString(), match => (match.Index == 0 ? "" : " ") + match.Value.ToLowerInvariant());

    /// <summary>The differences that are not allowed, one per line.</summary>
    public IEnumerable<string> Differences()
    {
        foreach (var kind in results.Where(result => result.Verdict == Verdict.Different).GroupBy(result => result.Kind).OrderBy(kind => kind.Key))
        {
            foreach (var result in kind.OrderBy(result => result.Of, StringComparer.Ordinal).Take(MostShown))
            {
                // For each kind of place, the first difference and the count.
                var places = result.Differences.GroupBy(difference => difference.Path)
                    .Select(place => place.Count() == 1 ? place.First().ToString() : $"{place.First()} ({place.Count()} like it)").ToList();
                var more = places.Count > MostOfOne ? $"; {places.Count - MostOfOne} more kinds of places" : string.Empty;
                yield return $"{Names[kind.Key]}, {result.Of}: {string.Join("; ", places.Take(MostOfOne))}{more}";
            }

            if (kind.Count() > MostShown)
            {
                yield return $"{Names[kind.Key]}: {kind.Count() - MostShown} more differ";
            }
        }
    }

    /// <summary>The page.</summary>
    public string Write()
    {
        var text = new StringBuilder();
        void Line(string line = "") => text.Append(line).Append('\n');
        Line($"# The same music as {settings.BaseName.Split(' ')[0]}: {(Passed ? "yes" : "no")}");
        Line();
        Line("Written by `.ci/same-music`. Both commits were built on one machine and asked for the same things; files were compared byte for byte,");
        Line("JSON member by member (every member of the base must be there with the same value), live performances by a hash of each second's samples.");
        Line();
        Line("| | base | current |");
        Line("|---|---|---|");
        Line($"| commit | {Cell(settings.BaseName)} | {Cell(settings.CurrentName)} |");
        foreach (var assembly in (string[])["groovelab.dll", "GrooveLab.Music.dll", "GrooveLab.Exchange.dll", "GrooveLab.Audio.dll"])
        {
            Line($"| build identity of {assembly} | {Base.IdentityOf(assembly)} | {Current.IdentityOf(assembly)} |");
        }

        Line();
        Line($".NET {Environment.Version}, {RuntimeInformation.RuntimeIdentifier}, vectors of {(Vector256.IsHardwareAccelerated ? 256 : 128)} bits; "
            + string.Create(CultureInfo.InvariantCulture, $"{Took.TotalMinutes:0.0} minutes with {settings.Jobs} processes side by side."));
        Line();
        Counts(Line);
        Lists(Line);
        Performances(Line);
        Features(Line);
        Line("## Differences planted on purpose");
        Line();
        Line("Put into copies of real outputs, to show that the comparison can fail.");
        Line();
        Line("| planted | found |");
        Line("|---|---|");
        foreach (var (what, found) in Planted)
        {
            Line($"| {what} | {(found ? "yes" : "NO")} |");
        }

        return text.ToString();
    }

    // Bars and line breaks would end a cell of the table.
    private static string Cell(string text) => text.Replace("|", "\\|", StringComparison.Ordinal).Replace("\n", " ", StringComparison.Ordinal);

    [GeneratedRegex("[A-Z]", RegexOptions.CultureInvariant, 1000)]
    private static partial Regex Capital();

    private void Counts(Action<string> line)
    {
        line("| of | what | compared | identical | different, allowed | different |");
        line("|---|---|---:|---:|---:|---:|");
        foreach (var row in results.GroupBy(result => (result.Group, result.Kind)).OrderBy(row => row.Key.Kind >= OutputKind.Sounds).ThenBy(row => row.Key.Group, StringComparer.Ordinal).ThenBy(row => row.Key.Kind))
        {
            int Count(Verdict verdict) => row.Count(result => result.Verdict == verdict);
            line($"| {row.Key.Group} | {Names[row.Key.Kind]} | {row.Count()} | {Count(Verdict.Identical)} | {Count(Verdict.Allowed)} | {Count(Verdict.Different)} |");
        }

        line(string.Empty);
    }

    private void Lists(Action<string> line)
    {
        line(added.Count == 0
            ? "The current JSON has no member that the base's has not."
            : $"Members that the current JSON adds: {string.Join(", ", added.Select(member => $"`{member}`"))}.");
        line(string.Empty);
        foreach (var note in Notes)
        {
            line(note);
            line(string.Empty);
        }

        line("## Allowed differences");
        line(string.Empty);
        if (AllowedDifference.All.Count == 0)
        {
            line("None.");
        }
        else
        {
            line("| output | where | seen | the first | reason |");
            line("|---|---|---:|---|---|");
            foreach (var entry in AllowedDifference.All)
            {
                var seen = results.SelectMany(result => result.Allowed.Where(pair => pair.Entry == entry).Select(pair => $"{result.Of}: {pair.Difference}")).ToList();
                line($"| {Names[entry.Kind]} | {Cell($"{entry.Charts} {entry.Path}".Trim())} | {seen.Count} | {Cell(seen.FirstOrDefault("none"))} | {Cell(entry.Reason)} |");
            }
        }

        line(string.Empty);
        line("## Changes worded differently");
        line(string.Empty);
        var words = performances.SelectMany(performance => performance.Comparison.Changes).Select(change => change.Words).ToList();
        line(ChangedWords.All.Count == 0 ? "None." : "| in the base | now | seen | the first | reason |\n|---|---|---:|---|---|");
        foreach (var changed in ChangedWords.All)
        {
            var seen = words.Where(said => changed.Old.IsMatch(said)).ToList();
            var first = seen.Count == 0 ? "none" : $"`{seen[0]}` is now `{ChangedWords.Now(seen[0])}`";
            line($"| `{Cell(changed.Old.ToString())}` | `{Cell(changed.New)}` | {seen.Count} | {Cell(first)} | {Cell(changed.Reason)} |");
        }

        line(string.Empty);
        line("## Differences");
        line(string.Empty);
        var differences = Differences().ToList();
        line(differences.Count == 0 ? "None." : string.Join('\n', differences.Select(difference => "- " + difference)));
        line(string.Empty);
    }

    private void Performances(Action<string> line)
    {
        line("## Live changes");
        line(string.Empty);
        line("The base plays each chart offline while changes are drawn at random; the current program makes the same changes on the same frames, and");
        line("plays the base's log. Compared: every second's samples, every change refused, and the log's frames, commands and bars.");
        line(string.Empty);
        line("| chart | changes | seconds | of each kind |");
        line("|---|---:|---:|---|");
        foreach (var (chart, comparison) in performances.OrderByDescending(performance => performance.Comparison.Changes.Count).ThenBy(performance => performance.Chart, StringComparer.Ordinal))
        {
            line($"| {chart} | {comparison.Changes.Count} | {comparison.Seconds} | {Cell(comparison.Kinds)} |");
        }

        line($"| all | {performances.Sum(performance => performance.Comparison.Changes.Count)} | {performances.Sum(performance => performance.Comparison.Seconds)} | |");
        line(string.Empty);
    }

    private void Features(Action<string> line)
    {
        line("## What the random charts contain");
        line(string.Empty);
        line($"{random.Count} charts with random seed {settings.Seed}, all accepted by the base's `check`; {rejected} more were drawn and rejected by it.");
        line(string.Empty);
        line("| feature | charts |");
        line("|---|---:|");
        foreach (var feature in Enum.GetValues<ChartFeature>())
        {
            var count = random.Count(chart => chart.Features.Contains(feature));
            line($"| {NameOf(feature)} | {(count == 0 ? "NONE" : count.ToString(CultureInfo.InvariantCulture))} |");
        }

        line(string.Empty);
    }
}
