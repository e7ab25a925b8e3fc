using GrooveLab.Exchange.Instruments;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Performance;

namespace GrooveLab.Pack;

/// <summary>Reads the songs of a pack with the keys of its singers, and finds every problem before anything is made.</summary>
internal static class PackSongs
{
    /// <summary>Reads the songs.</summary>
    /// <param name="arguments">Charts, presets and set lists.</param>
    /// <param name="settings">The tempi and singers.</param>
    /// <param name="problems">Gets all problems.</param>
    /// <param name="remarks">Gets what is odd but no problem.</param>
    public static IReadOnlyList<PackSong> Read(IReadOnlyList<string> arguments, PackSettings settings, ProblemList problems, List<string> remarks)
    {
        var set = SetList.IsSet(arguments) ? problems.Try(() => SetList.Read(arguments)) : null;
        problems.Add(set?.Problems ?? []);
        var songs = new List<PackSong>();
        var wanted = SetList.IsSet(arguments) ? (set?.Songs ?? []).Where(song => song.IsPlayable) : [new SetSong(arguments[0], arguments[0], [])];
        foreach (var song in wanted)
        {
            var read = problems.Try(() => ChartFiles.Read(song.Path));
            if (read is not null && problems.Try(() => VersionsOf(song, read, settings, remarks)) is { } versions)
            {
                songs.Add(new PackSong(songs.Count + 1, read.Title.Trim().Length == 0 ? song.FileName : read.Title, song.Path, InputsOf(song.Path), versions));
            }
        }

        return songs;
    }

    private static IReadOnlyList<PackVersion> VersionsOf(SetSong song, Chart chart, PackSettings settings, List<string> remarks)
    {
        var wanted = new List<(Chart Chart, string Singer)>();
        var problems = new ProblemList();
        foreach (var singer in settings.Singers)
        {
            if (problems.Try(() => For(singer, song, chart)) is { } sung)
            {
                wanted.Add((sung, singer.Name));
            }
        }

        var own = new PackVersion(chart, [.. wanted.Where(one => IsSame(one.Chart, chart)).Select(one => one.Singer)], IsOwn: true);
        var others = wanted.Where(one => !IsSame(one.Chart, chart))
            .GroupBy(one => (one.Chart.Key, HalfSteps(chart, one.Chart)))
            .Select(same => new PackVersion(same.First().Chart, [.. same.Select(one => one.Singer).Distinct(StringComparer.Ordinal)], IsOwn: false));
        IReadOnlyList<PackVersion> versions = [own, .. others];
        foreach (var version in versions)
        {
            foreach (var percent in settings.Tempi)
            {
                problems.Try(() => NeedPlayable(song, version.Chart, new StartOptions { Pace = percent / 100 }));
            }

            remarks.AddRange(ChartFiles.TunesOutOfRange(version.Chart).Select(problem => $"{song.Named}: {problem}"));
        }

        problems.NeedNone();
        return versions;
    }

    // A chart in a singer's key: the given one by the smaller interval, or the nearest in which the tune lies within the range.
    private static Chart For(PackSinger singer, SetSong song, Chart chart)
    {
        if (singer.Key is { } key)
        {
            return new StartOptions { Key = key }.ApplyTo(chart);
        }

        var view = SingersKeys.Of(chart)
            ?? throw CommandFailure.BadInput($"{song.Named}: there is no tune, so no key follows from the range of {singer.Name}; give a key, such as --singer {singer.Name}=E");
        var keys = SingersKeys.Suggested(view, chart.Key, singer.Low!.Value, singer.High!.Value);
        return keys.Count > 0
            ? chart.Transposed(chart.Key.IntervalUp(keys[0].Up))
            : throw CommandFailure.BadInput($"{song.Named}: the tune goes from {view.Lowest} to {view.Highest}, farther than the range of {singer.Name}; give a key, such as --singer {singer.Name}=E");
    }

    private static bool IsSame(Chart one, Chart other) => one.Key.Equals(other.Key) && HalfSteps(one, other) == 0;

    // An octave leaves the key as it is, but not the tune.
    private static int HalfSteps(Chart from, Chart to) =>
        SingersKeys.Of(from) is { } before && SingersKeys.Of(to) is { } after ? after.Lowest.Midi - before.Lowest.Midi : 0;

    private static void NeedPlayable(SetSong song, Chart chart, StartOptions start)
    {
        try
        {
            _ = new BarComposer(start.ApplyTo(chart));
        }
        catch (ChartProblemException problem)
        {
            throw CommandFailure.BadInput($"{song.Named}: {(problem.Section is null ? string.Empty : $"section {problem.Section}: ")}{problem.Message}");
        }
    }

    private static ContentHash InputsOf(string path)
    {
        if (path == StandardInput.Word)
        {
            return ContentHash.Of(StandardInput.Bytes);
        }

        if (ChartFiles.Preset(path) is { } preset)
        {
            return ContentHash.Of(preset);
        }

        var beside = ContentHash.OfFile(Path.Combine(Path.GetDirectoryName(path) ?? string.Empty, InstrumentFile.FileName));
        return ContentHash.Of($"{ContentHash.OfFile(path)} {beside}");
    }
}
