namespace GrooveLab.SameMusic.Live;

/// <summary>The two halves of a comparison of live changes, each run by a build against its own classes.</summary>
internal static class LiveCommands
{
    /// <summary>File of the changes.</summary>
    public const string Changes = "changes.txt";

    /// <summary>File of the log's lines.</summary>
    public const string Log = "log.txt";

    /// <summary>File of the seconds heard.</summary>
    public const string Seconds = "seconds.txt";

    /// <summary>File of the seconds heard when replaying the log.</summary>
    public const string Replayed = "replayed.txt";

    /// <summary>File of the refused changes.</summary>
    public const string Refused = "refused.txt";

    /// <summary>File of the number of changes of each kind.</summary>
    public const string Kinds = "kinds.txt";

    /// <summary>Creates a random performance and writes it into a folder.</summary>
    public static Func<int> Draw(string chart, int count, int seconds, int seed, string folder) => () =>
    {
        Directory.CreateDirectory(folder);
        var music = new PerformedMusic(LiveSide.Rate);
        var (changes, log, kinds) = LiveSide.Draw(chart, count, seconds, seed, music);
        File.WriteAllLines(Path.Combine(folder, Changes), changes.Select(change => change.ToString()));
        File.WriteAllLines(Path.Combine(folder, Log), log);
        File.WriteAllText(Path.Combine(folder, Kinds), kinds);
        music.Write(Path.Combine(folder, Seconds));
        return 0;
    };

    /// <summary>Repeats the changes of a performance, and replays its log.</summary>
    /// <param name="chart">The chart's file.</param>
    /// <param name="from">The folder of the performance.</param>
    /// <param name="folder">The output folder.</param>
    /// <param name="omitted">The number of a change to omit, to show that its absence is detected; null for none.</param>
    public static Func<int> Perform(string chart, string from, string folder, int? omitted) => () =>
    {
        Directory.CreateDirectory(folder);
        var drawn = PerformedMusic.Read(Path.Combine(from, Seconds), LiveSide.Rate);
        var changes = File.ReadAllLines(Path.Combine(from, Changes)).Select(ScriptedChange.Parse).Where((_, number) => number != omitted).ToList();
        var music = new PerformedMusic(LiveSide.Rate);
        var (log, refused) = LiveSide.Perform(chart, changes, drawn.Frames, music);
        music.Write(Path.Combine(folder, Seconds));
        File.WriteAllLines(Path.Combine(folder, Log), log);
        File.WriteAllLines(Path.Combine(folder, Refused), refused);
        if (omitted is null)
        {
            var again = new PerformedMusic(LiveSide.Rate);
            LiveSide.Replay(chart, File.ReadAllLines(Path.Combine(from, Log)), drawn.Frames, again);
            again.Write(Path.Combine(folder, Replayed));
        }

        return 0;
    };
}
