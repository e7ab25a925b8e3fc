using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes a verse: syllables and the notes on which they are sung.</summary>
internal static class TuneWords
{
    private const string AcceptedWords =
        "write one syllable per note, tied notes counted once, rests not at all; join words on one note with ~ (the~old)";

    private const string AcceptedBar =
        "write a syllable, _ or * for every note (tied notes count once, rests not at all), and every bar line of the tune or none";

    internal enum Sign
    {
        Syllable,
        Hold,
        Skip,
        Hyphen,
        BarLine,
        Mark,
    }

    /// <summary>Reads a verse; null if there was a problem, which is then reported.</summary>
    /// <param name="text">The verse.</param>
    /// <param name="notes">The notes on which it is sung, as read, valid or not.</param>
    /// <param name="format">The format of the chart; from 2 on a syllable may have marks.</param>
    /// <param name="problems">Receives the problems.</param>
    /// <param name="isEnding">True in an ending, which may begin by holding the last syllable of its section.</param>
    public static IReadOnlyList<Syllable?>? Read(TomlString text, TuneNotes.Result notes, int format, Problems problems, bool isEnding = false)
    {
        if (RemarkAt(text.Value) is { } remark)
        {
            problems.Add(
                text.PlaceOf(remark),
                "a remark cannot be among the words: inside quotes # is sung",
                "move the remark to a line of its own, before the words or after their closing quotes");
            return null;
        }

        var tokens = Cut(text.Value, format);
        var well = CheckMarks(text, tokens, problems) & CheckHolds(text, tokens, problems, isEnding) & new Counting(text, tokens, notes, problems).Check();
        return well && notes.Notes is not null ? Verse(tokens, notes.Units) : null;
    }

    // A number sign by itself; "#1" may be sung.
    private static int? RemarkAt(string verse)
    {
        for (var at = verse.IndexOf('#', StringComparison.Ordinal); at >= 0; at = verse.IndexOf('#', at + 1))
        {
            if ((at == 0 || char.IsWhiteSpace(verse[at - 1])) && (at + 1 == verse.Length || char.IsWhiteSpace(verse[at + 1])))
            {
                return at;
            }
        }

        return null;
    }

    /// <summary>Writes a verse in one line.</summary>
    public static string Write(IReadOnlyList<Syllable?> verse)
    {
        var text = new StringBuilder();
        var last = verse.Count;
        while (last > 0 && verse[last - 1] is null)
        {
            last--;
        }

        var isJoined = false;
        for (var i = 0; i < last; i++)
        {
            var syllable = verse[i];
            if (syllable is null)
            {
                text.Append(" * ");
                isJoined = false;
                continue;
            }

            if (!isJoined && syllable.Place is SyllablePlace.Middle or SyllablePlace.End)
            {
                text.Append('-');
            }

            text.Append(syllable.Stress switch { Stress.Strong => "!strong!", Stress.Weak => "!weak!", _ => string.Empty });
            text.Append(syllable.Late is { } late ? $"!{TuneMarks.Late}{OfAWhole(late)}!" : string.Empty);
            text.Append(Plain(syllable.Text)).Append('_', syllable.IsHeldOver ? syllable.Notes : syllable.Notes - 1);
            isJoined = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle;
            text.Append(isJoined ? '-' : ' ');
            i += syllable.Notes - 1;
        }

        return string.Join(' ', text.ToString().Split(' ', StringSplitOptions.RemoveEmptyEntries));
    }

    // Signs with a meaning in a verse are replaced by similar-looking ones.
    internal static string Plain(string syllable) => (MarkAt(syllable, 0) > 0 ? '\u01c3' + syllable[1..] : syllable == "#" ? "\u266f" : syllable)
        .Replace('-', '\u2011')
        .Replace('_', '\u2017')
        .Replace('*', '\u2217')
        .Replace('|', '\u2223')
        .Replace('~', '\u223c')
        .Replace(' ', '~');

    // A slash means a fraction of a whole note.
    internal static string OfAWhole(Span length) => length.Wholes.IsInteger ? $"{length}/1" : length.ToString();

    // The end of a mark that begins here; 0 if none does. A word followed by an exclamation mark is not a mark.
    private static int MarkAt(string value, int start)
    {
        if (value.Length == 0 || value[start] != '!')
        {
            return 0;
        }

        var end = start + 1;
        while (end < value.Length && (char.IsAsciiLetterOrDigit(value[end]) || value[end] is ':' or '/' or '.'))
        {
            end++;
        }

        return end > start + 1 && end < value.Length && value[end] == '!' ? end + 1 : 0;
    }

    private static bool CheckMarks(TomlString text, IReadOnlyList<Token> tokens, Problems problems)
    {
        var well = true;
        for (var i = 0; i < tokens.Count; i++)
        {
            if (tokens[i].Sign != Sign.Mark)
            {
                continue;
            }

            var name = tokens[i].Text;
            var late = name.StartsWith(TuneMarks.Late, StringComparison.Ordinal) ? name[TuneMarks.Late.Length..] : null;
            if (name is not ("strong" or "weak") && (late is null || !NoteLength.TryRead(late, Span.Of(1, 8), out _)))
            {
                problems.Add(
                    text.PlaceOf(tokens[i].Index),
                    $"{Words.Quote(name)} is not a mark of a syllable",
                    "write !strong!, !weak! or !late:1/16! before a syllable");
                well = false;
            }
            else if (i + 1 >= tokens.Count || tokens[i + 1].Sign is not (Sign.Syllable or Sign.Mark))
            {
                problems.Add(text.PlaceOf(tokens[i].Index), $"!{name}! is not before a syllable", "write it right before one: !strong!lan-terns");
                well = false;
            }
        }

        return well;
    }

    // Double bar lines count as one, and so does one at a line's end with one at the next line's beginning.
    internal static List<Token> Cut(string value, int format)
    {
        var tokens = new List<Token>();
        for (var i = 0; i < value.Length; i++)
        {
            var start = i;
            switch (value[i])
            {
                case '-':
                    tokens.Add(new Token(Sign.Hyphen, i, "-"));
                    break;
                case '_':
                    tokens.Add(new Token(Sign.Hold, i, "_"));
                    break;
                case '*':
                    tokens.Add(new Token(Sign.Skip, i, "*"));
                    break;
                case '|' or '‖':
                    var between = tokens.Count > 0 && tokens[^1].Sign == Sign.BarLine ? value[(tokens[^1].Index + 1)..i] : null;
                    if (between is null || between.Length > 0 && !between.Contains('\n'))
                    {
                        tokens.Add(new Token(Sign.BarLine, i, "|"));
                    }

                    break;
                case var c when char.IsWhiteSpace(c):
                    break;
                case '!' when format > 1 && MarkAt(value, i) is var end and > 0:
                    tokens.Add(new Token(Sign.Mark, i, value[(i + 1)..(end - 1)]));
                    i = end - 1;
                    break;
                default:
                    while (i + 1 < value.Length && !char.IsWhiteSpace(value[i + 1]) && value[i + 1] is not ('-' or '_' or '*' or '|' or '‖'))
                    {
                        i++;
                    }

                    tokens.Add(new Token(Sign.Syllable, start, value[start..(i + 1)]));
                    break;
            }
        }

        return tokens;
    }

    private static bool CheckHolds(TomlString text, IReadOnlyList<Token> tokens, Problems problems, bool isEnding)
    {
        var well = true;
        var sung = isEnding;
        foreach (var token in tokens)
        {
            if (token.Sign == Sign.Hold && !sung)
            {
                problems.Add(
                    text.PlaceOf(token.Index),
                    "_ holds a syllable over one more note, but there is no syllable before it",
                    "write * for a note without a syllable");
                well = false;
            }

            sung = token.Sign == Sign.Syllable || (sung && token.Sign is not Sign.Skip);
        }

        return well;
    }

    private static Syllable?[] Verse(IReadOnlyList<Token> tokens, IReadOnlyList<Span?> units)
    {
        var verse = new Syllable?[units.Count];
        var note = 0;
        var current = -1;
        var join = false;
        var stress = Stress.Unknown;
        Span? late = null;
        foreach (var token in tokens)
        {
            switch (token.Sign)
            {
                case Sign.Syllable:
                    verse[note] = new Syllable(token.Text.Replace('~', ' '), join ? SyllablePlace.End : SyllablePlace.Single, 1)
                    {
                        Stress = stress,
                        Late = late,
                    };
                    (stress, late) = (Stress.Unknown, null);
                    join = false;
                    current = note++;
                    break;
                case Sign.Mark when token.Text.StartsWith(TuneMarks.Late, StringComparison.Ordinal):
                    NoteLength.TryRead(token.Text[TuneMarks.Late.Length..], units[note], out late);
                    break;
                case Sign.Mark:
                    stress = token.Text == "strong" ? Stress.Strong : Stress.Weak;
                    break;
                case Sign.Hold when current < 0:
                    verse[note] = Syllable.HeldOver;
                    current = note++;
                    break;
                case Sign.Hold:
                    verse[current] = verse[current]! with { Notes = verse[current]!.Notes + 1 };
                    note++;
                    break;
                case Sign.Skip:
                    current = -1;
                    join = false;
                    note++;
                    break;
                case Sign.Hyphen:
                    if (current >= 0 && !verse[current]!.IsHeldOver)
                    {
                        verse[current] = verse[current]! with
                        {
                            Place = verse[current]!.Place switch
                            {
                                SyllablePlace.Single => SyllablePlace.Begin,
                                SyllablePlace.End => SyllablePlace.Middle,
                                var place => place,
                            },
                        };
                    }

                    join = true;
                    break;
            }
        }

        return verse;
    }

    internal readonly record struct Token(Sign Sign, int Index, string Text)
    {
        public bool TakesANote => Sign is Sign.Syllable or Sign.Hold or Sign.Skip;
    }

    // Checks that the syllables fit the notes: bar by bar if there are bar lines, otherwise all together.
    private sealed class Counting(TomlString text, IReadOnlyList<Token> tokens, TuneNotes.Result notes, Problems problems)
    {
        private readonly List<Token> _inBar = [];
        private bool _well = true;
        private int _bar;
        private int _shifted;
        private bool _tooMany;

        public bool Check()
        {
            // Bar -1 is the pickup; a bar line before everything only starts the first.
            _bar = notes.Pickup is 0 ? 0 : -1;
            var opened = false;
            var lines = notes.Bars is not null;
            foreach (var token in tokens)
            {
                if (token.TakesANote)
                {
                    _inBar.Add(token);
                }
                else if (token.Sign == Sign.BarLine && lines && (opened || _inBar.Count > 0))
                {
                    Close(token);
                }

                opened = true;
            }

            CheckRest(lines);
            return _well;
        }

        private int? NotesIn(int bar) => bar < 0 ? notes.Pickup : bar < notes.Bars!.Count ? notes.Bars[bar] : 0;

        private void Close(Token line)
        {
            // Bars in which no note starts may be omitted.
            while (_inBar.Count > 0 && _bar < notes.Bars!.Count && NotesIn(_bar) is 0)
            {
                _bar++;
            }

            if (_bar >= notes.Bars!.Count)
            {
                TellTooMany(0);
            }
            else if (NotesIn(_bar) is { } count)
            {
                var surplus = _inBar.Count - count;

                // A misplaced bar line makes two bars wrong; that is one mistake.
                if (surplus != 0 && surplus != -_shifted)
                {
                    TellBar(line, count);
                    _shifted = surplus;
                }
                else
                {
                    _shifted = 0;
                }
            }
            else
            {
                _shifted = 0;
            }

            _bar++;
            _inBar.Clear();
        }

        private void TellBar(Token line, int count)
        {
            var sung = _inBar.Count;
            var what = _bar < 0 ? "the pickup" : string.Create(CultureInfo.InvariantCulture, $"bar {_bar + 1}");
            var syllables = sung == 0 ? "no syllable" : Words.Count(sung, "syllable");
            problems.Add(text.PlaceOf(line.Index), $"{what} has {Words.Count(count, "note")} but {syllables} before this |", AcceptedBar);
            _well = false;
        }

        // After the last bar line there must be no more syllables than notes left.
        private void CheckRest(bool lines)
        {
            var left = 0;
            if (lines)
            {
                for (var bar = _bar; bar < notes.Bars!.Count; bar++)
                {
                    if (NotesIn(bar) is not { } count)
                    {
                        return;
                    }

                    left += count;
                }
            }
            else if (notes.Count is { } all)
            {
                left = all;
            }
            else
            {
                return;
            }

            if (_inBar.Count - left > Math.Max(0, -_shifted))
            {
                TellTooMany(left);
            }
        }

        private void TellTooMany(int left)
        {
            // If there are no more syllables than notes in total, the reported bar line is the whole mistake.
            if (left >= _inBar.Count || _tooMany || !_well && tokens.Count(token => token.TakesANote) <= notes.Count)
            {
                return;
            }

            _tooMany = true;

            var total = notes.Count is { } all ? $": the tune has {Words.Count(all, "note")}" : string.Empty;
            var first = _inBar[left];
            problems.Add(
                text.PlaceOf(first.Index),
                $"no note left for {(first.Sign == Sign.Syllable ? Words.Quote(first.Text) : first.Text)}{total}",
                AcceptedWords);
            _well = false;
        }
    }
}
