using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Wording;
using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>A song of a set.</summary>
/// <param name="Path">The chart's file, or the name of a preset.</param>
/// <param name="Title">The chart's title; the file's name if the title cannot be read.</param>
/// <param name="Problems">Why it cannot be played, in words, with file, line and remedy; empty if it can.</param>
internal sealed record SetSong(string Path, string Title, IReadOnlyList<string> Problems)
{
    /// <summary>Whether it can be played.</summary>
    public bool IsPlayable => Problems.Count == 0;

    /// <summary>The chart as written in the list or on the command line.</summary>
    public string Named { get; init; } = Path;

    /// <summary>List file and line, for messages; empty for a chart of the command line.</summary>
    public string Where { get; init; } = string.Empty;

    /// <summary>The file's name without its ending, or the name of a preset.</summary>
    public string FileName => System.IO.Path.GetFileNameWithoutExtension(Path);
}

/// <summary>A line of a list file.</summary>
/// <param name="Path">The chart's file, or the name of a preset; empty for a line that names none.</param>
/// <param name="Named">The chart as written.</param>
/// <param name="Where">File and line, for messages.</param>
/// <param name="Problem">What is wrong with the list there, in words; null for nothing.</param>
internal sealed record SetLine(string Path, string Named, string Where, string? Problem = null);

/// <summary>
/// The songs to play one after another: charts of the command line, or of a list file. A list file is plain text in UTF-8: a chart on each line,
/// relative to the list's folder, or the name of a preset; remarks follow <c>#</c> at the start of a line or after a space; empty lines do not count.
/// </summary>
internal sealed class SetList
{
    /// <summary>The endings of list files.</summary>
    public static readonly string[] Endings = [".set", ".txt"];

    private const int MostBytes = 1 << 20;
    private const int MostSongs = 500;

    private readonly List<SetSong> _songs;
    private readonly List<(int? Song, string Text)> _problems;

    private SetList(List<SetSong> songs, List<(int? Song, string Text)> problems)
    {
        _songs = songs;
        _problems = problems;
    }

    /// <summary>The songs, in order, including those that cannot be played.</summary>
    public IReadOnlyList<SetSong> Songs => _songs;

    /// <summary>All problems of the lists and charts, in words.</summary>
    public IReadOnlyList<string> Problems => [.. _problems.Select(problem => problem.Text)];

    /// <summary>Whether a file is a list by its name.</summary>
    public static bool IsList(string path) => Endings.Contains(Path.GetExtension(path), StringComparer.OrdinalIgnoreCase);

    /// <summary>Whether an existing file is a list: by its name, unless it has sections, as a chart does.</summary>
    public static bool IsListFile(string path)
    {
        try
        {
            return IsList(path) && File.Exists(path) && new FileInfo(path).Length <= MostBytes && !File.ReadLines(path).Any(line => line.TrimStart().StartsWith("[[", StringComparison.Ordinal));
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }

    /// <summary>Whether these arguments are a set: several charts, or a list.</summary>
    public static bool IsSet(IReadOnlyList<string> arguments) => arguments.Count > 1 || (arguments.Count == 1 && IsList(arguments[0]));

    /// <summary>Reads charts and lists, and checks every chart.</summary>
    /// <exception cref="CommandFailure">None of them can be played; the message has all problems.</exception>
    public static SetList Read(IReadOnlyList<string> arguments)
    {
        var songs = new List<SetSong>();
        var problems = new List<(int? Song, string Text)>();
        foreach (var argument in arguments)
        {
            if (IsList(argument))
            {
                foreach (var line in Lines(argument, songs.Count))
                {
                    if (line.Problem is { } problem)
                    {
                        problems.Add((null, problem));
                    }
                    else
                    {
                        Add(line.Path, line.Named, line.Where);
                    }
                }
            }
            else
            {
                Add(argument, argument, string.Empty);
            }
        }

        return songs.Exists(song => song.IsPlayable)
            ? new SetList(songs, problems)
            : throw CommandFailure.BadInput(problems.Count == 0
                ? $"{string.Join(", ", arguments)}: the list names no chart; write one chart on each line"
                : string.Join(Environment.NewLine, problems.Select(problem => problem.Text).Prepend("no chart of the set can be played:")));

        void Add(string path, string named, string where)
        {
            var song = SongOf(path, named, where);
            problems.AddRange(song.Problems.Select(problem => ((int?)songs.Count, problem)));
            songs.Add(song);
        }
    }

    /// <summary>Reads the chart of a song again, whose file may have changed.</summary>
    /// <param name="song">The song.</param>
    public static SetSong Again(SetSong song) => SongOf(song.Path, song.Named, song.Where);

    /// <summary>Replaces a song by the same song read again.</summary>
    /// <param name="index">Its index.</param>
    /// <param name="song">The song as read again.</param>
    public void Replace(int index, SetSong song)
    {
        var at = _problems.FindIndex(problem => problem.Song == index);
        _problems.RemoveAll(problem => problem.Song == index);
        _problems.InsertRange(at < 0 ? _problems.Count : at, song.Problems.Select(problem => ((int?)index, problem)));
        _songs[index] = song;
    }

    /// <summary>The next song that can be played.</summary>
    /// <param name="from">The current one.</param>
    /// <param name="step">1 for the next, -1 for the one before.</param>
    /// <returns>Its index; null at the end of the set.</returns>
    public int? After(int from, int step)
    {
        for (var i = from + step; i >= 0 && i < Songs.Count; i += step)
        {
            if (Songs[i].IsPlayable)
            {
                return i;
            }
        }

        return null;
    }

    /// <summary>The songs that a number, a title, a file's name, or a part of one of these means, also those that cannot be played: the whole name
    /// first, then its beginning, then the beginning of one of its words, then any part of it.</summary>
    /// <param name="named">What was typed, in small or capital letters.</param>
    /// <returns>Their indices: one, several if more than one fits as well, or none.</returns>
    public IReadOnlyList<int> Named(string named)
    {
        if (int.TryParse(named, NumberStyles.None, CultureInfo.InvariantCulture, out var number))
        {
            return number >= 1 && number <= Songs.Count ? [number - 1] : [];
        }

        var all = Enumerable.Range(0, Songs.Count).ToList();
        Func<string, bool>[] fits =
        [
            name => string.Equals(name, named, StringComparison.OrdinalIgnoreCase),
            name => name.StartsWith(named, StringComparison.OrdinalIgnoreCase),
            name => BeginsAWord(name, named),
            name => name.Contains(named, StringComparison.OrdinalIgnoreCase),
        ];
        foreach (var fit in named.Length == 0 ? [] : fits)
        {
            foreach (var name in new Func<SetSong, string>[] { song => song.Title, song => song.FileName, song => Path.GetFileName(song.Path) })
            {
                var found = all.FindAll(at => fit(name(Songs[at])));

                // The same chart twice: the first.
                if (found.Count > 0)
                {
                    return found.TrueForAll(at => Songs[at].Path == Songs[found[0]].Path) ? [found[0]] : found;
                }
            }
        }

        return [];
    }

    private static bool BeginsAWord(string name, string named)
    {
        for (var at = name.IndexOf(named, 1, StringComparison.OrdinalIgnoreCase); at > 0; at = name.IndexOf(named, at + 1, StringComparison.OrdinalIgnoreCase))
        {
            if (!char.IsLetterOrDigit(name[at - 1]))
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>The lines of a list, in order, without reading the charts.</summary>
    /// <param name="path">The list's file.</param>
    /// <param name="before">The number of songs before it in the set.</param>
    public static IReadOnlyList<SetLine> Lines(string path, int before = 0)
    {
        SetLine[] Unread(string problem) => [new SetLine(string.Empty, path, string.Empty, problem)];
        string[] lines;
        try
        {
            ChartFiles.NeedFile(path);
            if (new FileInfo(path).Length > MostBytes)
            {
                return Unread($"{path}: too long for a list of charts; write one chart on each line");
            }

            lines = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(File.ReadAllBytes(path)).TrimStart('\uFEFF').Split('\n');
        }
        catch (CommandFailure missing)
        {
            return Unread(missing.Message);
        }
        catch (DecoderFallbackException)
        {
            return Unread($"{path}: not text in UTF-8; save the list as UTF-8, one chart on each line");
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            return Unread($"{path}: {failure.Message}");
        }

        var folder = Path.GetDirectoryName(path) ?? string.Empty;
        var found = new List<SetLine>();
        for (var i = 0; i < lines.Length; i++)
        {
            var named = Bare(lines[i]);
            if (named.Length == 0)
            {
                continue;
            }

            var where = $"{path}:{i + 1}: ";
            if (before + found.Count(line => line.Problem is null) == MostSongs)
            {
                return [.. found, new SetLine(string.Empty, named, where, $"{where}more than {MostSongs} songs; split the list")];
            }

            if (IsList(named))
            {
                found.Add(new SetLine(string.Empty, named, where, $"{where}{Words.Quote(named)} is another list; name its charts here"));
                continue;
            }

            var typed = UserFolders.Typed(named);
            var beside = Path.IsPathRooted(typed) ? typed : Path.Combine(folder, typed);
            found.Add(new SetLine(!File.Exists(beside) && ChartFiles.Preset(named) is not null ? named : beside, named, where));
        }

        return found;
    }

    // Without its remark: a file's name may contain #, but not after a space.
    private static string Bare(string line)
    {
        var text = line.Trim();
        if (text.StartsWith('#'))
        {
            return string.Empty;
        }

        for (var at = text.IndexOf('#', StringComparison.Ordinal); at > 0; at = text.IndexOf('#', at + 1))
        {
            if (char.IsWhiteSpace(text[at - 1]))
            {
                return text[..at].TrimEnd();
            }
        }

        return text;
    }

    private static SetSong SongOf(string path, string named, string where)
    {
        string? title = null;
        IReadOnlyList<string> found;
        try
        {
            var read = ChartFiles.ReadFile(path);
            (title, found) = (read.IsChart ? read.Chart.Title : read.Title, [.. read.Problems.Select(one => one.ToString())]);
        }
        catch (CommandFailure failure)
        {
            found = failure.Message.Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries);
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException or FormatException)
        {
            found = [failure.Message.ReplaceLineEndings(" ")];
        }

        return new SetSong(
            path, found.Count > 0 && string.IsNullOrEmpty(title) ? Path.GetFileName(named) : title ?? string.Empty, [.. found.Select(problem => where + problem)])
        {
            Named = named,
            Where = where,
        };
    }
}
