using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>A chord above a line of words, or a bar line among them.</summary>
/// <param name="Column">The column in which it begins, from 0.</param>
/// <param name="Chord">The chord; null for a bar line.</param>
/// <param name="Text">The text as written.</param>
/// <param name="Continues">True for / or %, which continue the chord before.</param>
internal sealed record ChordAbove(int Column, ChordSymbol? Chord, string Text, bool Continues)
{
    /// <summary>True for a bar line.</summary>
    public bool IsBarLine => Chord is null && !Continues;
}

/// <summary>A syllable of a line.</summary>
/// <param name="Text">Its text.</param>
/// <param name="Place">Its position in the word.</param>
/// <param name="Column">The column in which it begins, from 0.</param>
internal sealed record TextSyllable(string Text, WordPlace Place, int Column)
{
    /// <summary>The column after it.</summary>
    public int End => Column + Text.Length;
}

/// <summary>A line of a song: words, the chords above them, or both.</summary>
/// <param name="Line">The line of the words in the file, or of the chords if there are no words, from 1.</param>
internal sealed record SongLine(int Line)
{
    /// <summary>The chords and bar lines, in order of their columns; empty if none are written.</summary>
    public IReadOnlyList<ChordAbove> Chords { get; init; } = [];

    /// <summary>The syllables; empty for an instrumental line.</summary>
    public IReadOnlyList<TextSyllable> Syllables { get; init; } = [];

    /// <summary>How often it is played.</summary>
    public int Times { get; init; } = 1;
}

/// <summary>A part of a song under its heading.</summary>
/// <param name="Heading">The heading as written; empty for none.</param>
/// <param name="Line">The line of the heading, or its first line, from 1.</param>
/// <param name="Lines">Its lines; empty if it only repeats an earlier part by its heading.</param>
internal sealed record SongPart(string Heading, int Line, IReadOnlyList<SongLine> Lines)
{
    /// <summary>How often it is played.</summary>
    public int Times { get; init; } = 1;

    /// <summary>The heading without a number and in lower case: "verse" for "Verse 2".</summary>
    public string Kind => SongText.KindOf(Heading);
}

/// <summary>Words with chords above them, as lines: what the text says, not yet in time.</summary>
/// <remarks>Common practice, no source: a line in which every word is a chord is a line of chords, and belongs to the line of words under it; a heading
/// is a line of its own that names a part of a song, stands in square brackets or ends with a colon.</remarks>
internal sealed partial class SongText
{
    /// <summary>Maximum length of a line, in characters; every step is at most quadratic in it.</summary>
    public const int LongestLine = 2000;

    /// <summary>Maximum number of lines.</summary>
    public const int MostLines = 10_000;

    // Characters from which the language is found.
    private const int LongestSample = 20_000;

    // The trade's names for the parts of a song.
    private static readonly HashSet<string> PartNames = new(StringComparer.OrdinalIgnoreCase)
    {
        "verse", "refrain", "chorus", "pre-chorus", "prechorus", "bridge", "intro", "introduction", "interlude", "instrumental", "solo", "break", "ending",
        "end", "outro", "coda", "tag", "vamp", "turnaround", "middle eight", "couplet", "strophe", "kehrvers", "refrein", "estribillo", "stanza",
    };

    private readonly string[] _lines;
    private readonly string _name;
    private readonly bool _isEnglish;
    private readonly List<SongPart> _parts = [];
    private readonly List<SongLine> _current = [];
    private readonly List<ScoreRemark> _errors = [];
    private string _heading = "";
    private int _headingLine = 1;
    private int _headingTimes = 1;

    private SongText(string text, string name)
    {
        _lines = text.Replace("\r\n", "\n", StringComparison.Ordinal).Replace('\r', '\n').Split('\n');
        _name = name;
        _isEnglish = IsEnglish(text);
    }

    /// <summary>The title; null if none is given.</summary>
    public string? Title { get; private set; }

    /// <summary>Who wrote it; null if not given.</summary>
    public string? Author { get; private set; }

    /// <summary>The text after "Key:"; null if not given.</summary>
    public (string Text, int Line)? Key { get; private set; }

    /// <summary>The text after "Tempo:"; null if not given.</summary>
    public (string Text, int Line)? Tempo { get; private set; }

    /// <summary>The text after "Meter:" or "Time:"; null if not given.</summary>
    public (string Text, int Line)? Meter { get; private set; }

    /// <summary>The parts in the order of singing.</summary>
    public IReadOnlyList<SongPart> Parts => _parts;

    /// <summary>What cannot be read.</summary>
    public IReadOnlyList<ScoreRemark> Errors => _errors;

    /// <summary>Reads a text.</summary>
    /// <param name="text">The text, with tabs.</param>
    /// <param name="name">The file's name, for messages.</param>
    public static SongText Of(string text, string name)
    {
        var song = new SongText(text, name);
        song.Read();
        return song;
    }

    /// <summary>A heading without its number, brackets and colon, in lower case.</summary>
    public static string KindOf(string heading) => Number().Replace(heading.Trim(' ', '[', ']', ':', '.'), "").Trim().ToLowerInvariant();

    private void Read()
    {
        IReadOnlyList<ChordAbove>? above = null;
        var (aboveLine, aboveTimes) = (0, 1);
        void Alone()
        {
            if (above is not null)
            {
                _current.Add(new SongLine(aboveLine) { Chords = above, Times = aboveTimes });
                above = null;
            }
        }

        if (_lines.Length > MostLines)
        {
            _errors.Add(new ScoreRemark(new Origin(_name, MostLines + 1, null), $"the text has more than {MostLines} lines", "divide it into several songs"));
            return;
        }

        for (var i = 0; i < _lines.Length; i++)
        {
            if (_lines[i].Length > LongestLine)
            {
                _errors.Add(new ScoreRemark(new Origin(_name, i + 1, null), $"the line has more than {LongestLine} characters", "write one line of the song in a line"));
                continue;
            }

            var line = WithoutTabs(_lines[i]).TrimEnd();
            var number = i + 1;
            if (line.Trim().Length == 0)
            {
                // Chords over an empty line are played without words.
                Alone();
                if (_current.Count > 0 && !NextIsHeading(i) && _heading.Length == 0)
                {
                    Close();
                }
            }
            else if (Chords(line) is { } chords)
            {
                Alone();
                (above, aboveLine, aboveTimes) = (chords, number, TimesAtEnd(line));
            }
            else if (Header(line, number) || IsTitle(line, i))
            {
                Alone();
            }
            else if (Heading(line) is { } heading)
            {
                Alone();
                Close();
                (_heading, _headingLine, _headingTimes) = (heading, number, TimesAtEnd(line));
            }
            else
            {
                _current.Add(new SongLine(number) { Chords = above ?? [], Syllables = Syllables(TimesAtTheEnd().Replace(line, "")), Times = above is null ? TimesAtEnd(line) : Math.Max(aboveTimes, TimesAtEnd(line)) });
                above = null;
            }
        }

        Alone();
        Close();
        if (_parts.All(part => part.Lines.Count == 0))
        {
            _errors.Add(new ScoreRemark(new Origin(_name, 1, null), "there are no words and no chords", "write chord names above the words, each over its syllable"));
        }
        else if (!_parts.Exists(part => part.Lines.Any(line => line.Chords.Count > 0)))
        {
            _errors.Add(new ScoreRemark(new Origin(_name, 1, null), "there are no chords above the words", "write chord names above the words, each over its syllable, or N.C. for none"));
        }
    }

    private void Close()
    {
        if (_current.Count > 0 || _heading.Length > 0)
        {
            _parts.Add(new SongPart(_heading, _heading.Length > 0 ? _headingLine : _current[0].Line, [.. _current]) { Times = _headingTimes });
        }

        _current.Clear();
        (_heading, _headingTimes) = ("", 1);
    }

    private bool NextIsHeading(int index)
    {
        var next = _lines.Skip(index + 1).FirstOrDefault(line => line.Trim().Length > 0);
        return next is not null && Heading(next) is not null;
    }

    // "Key: D minor" and so on before the first part.
    private bool Header(string line, int number)
    {
        if (_parts.Count > 0 || _current.Count > 0 || HeaderLine().Match(line) is not { Success: true } match)
        {
            return false;
        }

        var value = match.Groups["value"].Value.Trim();
        switch (match.Groups["name"].Value.ToLowerInvariant())
        {
            case "title":
                Title = value;
                break;
            case "key":
                Key = (value, number);
                break;
            case "tempo":
                Tempo = (value, number);
                break;
            case "meter" or "metre" or "time":
                Meter = (value, number);
                break;
            default:
                Author = value;
                break;
        }

        return true;
    }

    // The first line, alone before an empty line or before a heading.
    private bool IsTitle(string line, int index)
    {
        if (Title is not null || _parts.Count > 0 || _current.Count > 0 || _heading.Length > 0 || Heading(line) is not null
            || _lines.Take(index).Any(before => before.Trim().Length > 0 && HeaderLine().Match(before) is not { Success: true }))
        {
            return false;
        }

        var isAlone = index + 1 < _lines.Length && (_lines[index + 1].Trim().Length == 0 || Heading(_lines[index + 1]) is not null || HeaderLine().IsMatch(_lines[index + 1]));
        Title = isAlone ? line.Trim() : null;
        return isAlone;
    }

    private static string? Heading(string line)
    {
        var text = TimesAtTheEnd().Replace(line.Trim(), "").Trim();
        var inside = text.StartsWith('[') && text.EndsWith(']') ? text[1..^1].Trim() : null;
        var named = (inside ?? text).TrimEnd(':').Trim();
        var isHeading = inside is not null
            || (text.EndsWith(':') && named.Split(' ').Length <= 4)
            || PartNames.Contains(Number().Replace(named, "").Trim());
        return isHeading && named.Length > 0 ? named : null;
    }

    // The chords of a line in which nothing else stands; null for any other line.
    private static List<ChordAbove>? Chords(string line)
    {
        var chords = new List<ChordAbove>();
        foreach (Match match in Word().Matches(TimesAtTheEnd().Replace(line, "")))
        {
            var word = match.Value;
            // A bar line may touch its chords.
            var at = match.Index;
            foreach (Match part in BarLineOrNot().Matches(word))
            {
                if (part.Value is "|" or "||" or "|:" or ":|" or "|]" or "[|")
                {
                    chords.Add(new ChordAbove(at + part.Index, null, part.Value, false));
                }
                else if (part.Value is "/" or "%" or "-" or "." && chords.Count > 0)
                {
                    chords.Add(new ChordAbove(at + part.Index, null, part.Value, true));
                }
                else if (ChordSymbol.TryParse(part.Value is "NC" or "N.C" ? "N.C." : part.Value.Trim('(', ')') is { Length: > 0 } inside && part.Value.StartsWith('(') ? inside : part.Value, out var chord, out _))
                {
                    chords.Add(new ChordAbove(at + part.Index, chord, part.Value, false));
                }
                else
                {
                    return null;
                }
            }
        }

        return chords.Any(chord => chord.Chord is not null) ? chords : null;
    }

    private List<TextSyllable> Syllables(string line)
    {
        var result = new List<TextSyllable>();
        foreach (Match match in Word().Matches(line))
        {
            var word = match.Value;
            if (!word.Any(char.IsLetterOrDigit))
            {
                // A dash or dots between words belong to the word before.
                if (result.Count > 0)
                {
                    result[^1] = result[^1] with { Text = result[^1].Text + word };
                }

                continue;
            }

            var parts = WordSyllables.Of(word, _isEnglish);
            var column = match.Index;
            for (var i = 0; i < parts.Count; i++)
            {
                while (column < line.Length && line[column] == '-')
                {
                    column++;
                }

                var place = parts.Count == 1 ? WordPlace.Single : i == 0 ? WordPlace.Begin : i == parts.Count - 1 ? WordPlace.End : WordPlace.Middle;
                result.Add(new TextSyllable(parts[i], place, column));
                column += parts[i].Length;
            }
        }

        return result;
    }

    private static int TimesAtEnd(string line) =>
        TimesAtTheEnd().Match(line) is { Success: true } match && int.TryParse(match.Groups["n"].Value, NumberStyles.None, CultureInfo.InvariantCulture, out var times)
            ? Math.Clamp(times, 1, 64)
            : 1;

    // A tab leads to the next column that is a multiple of eight.
    private static string WithoutTabs(string line)
    {
        while (line.IndexOf('\t', StringComparison.Ordinal) is >= 0 and var at)
        {
            line = line[..at] + new string(' ', 8 - (at % 8)) + line[(at + 1)..];
        }

        return line;
    }

    // English when one word in twelve is one of its commonest, or when a few words have no letter that English lacks.
    private static bool IsEnglish(string text)
    {
        // A few pages tell.
        var words = Letters().Matches(text.Length > LongestSample ? text[..LongestSample] : text).Select(match => match.Value.ToLowerInvariant()).ToList();
        var common = words.Count(word => word is "the" or "and" or "of" or "to" or "my" or "you" or "is" or "are" or "me" or "for" or "on" or "with" or "it" or "your" or "that" or "all");
        return common * 12 >= words.Count || (words.Count < 20 && words.TrueForAll(word => word.All(char.IsAscii)));
    }

    [GeneratedRegex(@"\S+", RegexOptions.NonBacktracking)]
    private static partial Regex Word();

    [GeneratedRegex(@"\|\||\|:|:\||\|\]|\[\||\||[^|:\[\]]+", RegexOptions.NonBacktracking)]
    private static partial Regex BarLineOrNot();

    [GeneratedRegex(@"\s*\b[0-9]+\.?$|\s+[IVX]+$", RegexOptions.NonBacktracking)]
    private static partial Regex Number();

    [GeneratedRegex(@"\s+\(?(?:x\s?(?<n>[0-9]{1,2})|(?<n>[0-9]{1,2})\s?x)\)?\s*$", RegexOptions.IgnoreCase | RegexOptions.NonBacktracking)]
    private static partial Regex TimesAtTheEnd();

    [GeneratedRegex(@"^\s*(?<name>title|key|tempo|meter|metre|time|words|music|by|author)\s*:\s*(?<value>\S.*)$", RegexOptions.IgnoreCase | RegexOptions.NonBacktracking)]
    private static partial Regex HeaderLine();

    [GeneratedRegex(@"\p{L}+", RegexOptions.NonBacktracking)]
    private static partial Regex Letters();
}
