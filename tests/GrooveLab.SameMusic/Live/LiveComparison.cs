using GrooveLab.SameMusic.Outputs;

namespace GrooveLab.SameMusic.Live;

/// <summary>Compares a performance of the base with that of the current program.</summary>
/// <param name="Changes">The changes, in the words of the base.</param>
/// <param name="Seconds">The duration.</param>
/// <param name="Kinds">The number of changes of each kind.</param>
/// <param name="Music">The places where the scripted changes sound different, or are refused.</param>
/// <param name="Replay">The places where the log sounds different.</param>
/// <param name="Log">The places where the logs differ, apart from words.</param>
internal sealed record LiveComparison(
    IReadOnlyList<ScriptedChange> Changes,
    int Seconds,
    string Kinds,
    IReadOnlyList<Difference> Music,
    IReadOnlyList<Difference> Replay,
    IReadOnlyList<Difference> Log)
{
    /// <summary>Compares two folders; a folder without a replayed log is compared without it.</summary>
    /// <param name="baseFolder">The base's folder.</param>
    /// <param name="currentFolder">The current program's folder.</param>
    /// <param name="rate">Frames per second.</param>
    public static LiveComparison Of(string baseFolder, string currentFolder, int rate)
    {
        string[] Lines(string folder, string file) => File.ReadAllLines(Path.Combine(folder, file));
        var changes = Lines(baseFolder, LiveCommands.Changes).Select(ScriptedChange.Parse).ToList();
        var drawn = PerformedMusic.Read(Path.Combine(baseFolder, LiveCommands.Seconds), rate);
        var performed = PerformedMusic.Read(Path.Combine(currentFolder, LiveCommands.Seconds), rate);
        var replayed = Path.Combine(currentFolder, LiveCommands.Replayed);
        return new LiveComparison(
            changes,
            drawn.Seconds.Count,
            File.ReadAllText(Path.Combine(baseFolder, LiveCommands.Kinds)),
            [
                .. Lines(currentFolder, LiveCommands.Refused).Select(refused => new Difference("refused", "a change", "made", $"refused, {refused}")),
                .. Differing(drawn, performed, changes, rate),
            ],
            File.Exists(replayed) ? Differing(drawn, PerformedMusic.Read(replayed, rate), changes, rate) : [],
            Logs(Lines(baseFolder, LiveCommands.Log), Lines(currentFolder, LiveCommands.Log)));
    }

    // The first different second matters most: the later ones differ because of it.
    private static List<Difference> Differing(PerformedMusic drawn, PerformedMusic heard, List<ScriptedChange> changes, int rate)
    {
        var differing = Enumerable.Range(0, Math.Min(drawn.Seconds.Count, heard.Seconds.Count))
            .Where(second => drawn.Seconds[second].Hash != heard.Seconds[second].Hash).ToList();
        var found = new List<Difference>();
        if (differing.Count > 0)
        {
            var second = differing[0];
            var before = changes.Where(change => change.Frame < (second + 1L) * rate).TakeLast(3)
                .Select(change => $"\"{change.Words}\" at {(double)change.Frame / rate:0.00} s").ToList();
            found.Add(new Difference(
                "samples",
                $"second {second} of the music, {drawn.Seconds[second].Place}, after {(before.Count == 0 ? "no change" : string.Join(", ", before))}"
                    + $" ({differing.Count} of {drawn.Seconds.Count} seconds differ)",
                drawn.Seconds[second].Hash,
                heard.Seconds[second].Hash));
        }

        if (drawn.Frames != heard.Frames)
        {
            found.Add(new Difference("length", "the end", $"{drawn.Frames} frames", $"{heard.Frames} frames"));
        }

        return found;
    }

    private static List<Difference> Logs(string[] before, string[] now)
    {
        var (there, here) = (before.Select(WithoutWords).ToList(), now.Select(WithoutWords).ToList());
        var first = there.Zip(here).TakeWhile(pair => pair.First == pair.Second).Count();
        string Line(string[] lines) => first < lines.Length ? lines[first] : "the end";
        return first == there.Count && first == here.Count ? [] : [new Difference("log", $"line {first + 1} of the log", Line(before), Line(now))];
    }

    // The wording of a change may differ; its place may not.
    private static string WithoutWords(string line) => line.StartsWith("ask ", StringComparison.Ordinal) ? string.Join(' ', line.Split(' ')[..4]) : line;
}
