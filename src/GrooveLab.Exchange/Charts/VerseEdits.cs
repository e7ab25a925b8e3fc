using System.Text;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using static GrooveLab.Exchange.Charts.TuneWords;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits the words of a tune in their text: a verse that is already right is left alone; in others only differing syllables
/// change, and bar lines if notes have moved across them. Line breaks stay.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="table">The tune, or another line.</param>
/// <param name="format">The format of the chart.</param>
/// <param name="columns">The bar lines of the section.</param>
internal sealed class VerseEdits(TomlEditor editor, TomlTable table, int format, BarColumns columns)
{
    private const int MostCompared = 500_000;

    /// <summary>Writes the verses.</summary>
    /// <param name="verses">The new verses.</param>
    /// <param name="notes">The notes on which they are sung, as they will be read back.</param>
    public void Write(IReadOnlyList<IReadOnlyList<Syllable?>> verses, TuneNotes.Result notes)
    {
        var value = table.Find("words")?.Value;
        if (verses.Count == 0)
        {
            editor.Remove(table, "words");
            return;
        }

        IReadOnlyList<TomlString> texts = value switch
        {
            TomlString one => [one],
            TomlList list => [.. list.Items.OfType<TomlString>()],
            _ => [],
        };
        if (texts.Count == 0 || (value is TomlString && verses.Count > 1))
        {
            editor.Set(table, "words", ChartWriter.WordsLiteral(verses), ChartKeys.Tune);
            return;
        }

        for (var i = 0; i < Math.Min(texts.Count, verses.Count); i++)
        {
            var (text, written) = (texts[i], Written(texts[i].Value, verses[i], notes));
            editor.ReplaceText(text, written);
            if (text.Value == written && texts.Count == verses.Count)
            {
                columns.Add(text, () => Cut(text.Value, format).Where(token => token.Sign == Sign.BarLine).Select(token => (token.Index, token.Index + 1)));
            }
        }

        if (value is TomlList items && texts.Count != verses.Count)
        {
            editor.ArrangeItems(
                items,
                [.. verses.Select((verse, i) => i < texts.Count ? (i, (string?)null) : ((int?)null, TomlLiteral.Text(TuneWords.Write(verse))))]);
        }
    }

    private string Written(string was, IReadOnlyList<Syllable?> verse, TuneNotes.Result notes)
    {
        if (Reads(was, verse, notes))
        {
            return was;
        }

        var now = new VerseText(was, verse, notes, format).Write();
        return Reads(now, verse, notes) ? now : TuneWords.Write(verse);
    }

    private bool Reads(string text, IReadOnlyList<Syllable?> verse, TuneNotes.Result notes)
    {
        var problems = Problems.Unread();
        return TuneWords.Read(TomlString.Of(text), notes, format, problems, verse is [{ IsHeldOver: true }, ..]) is { } read && problems.Count == 0 && SameChart.Verses(verse, read);
    }

    /// <summary>A verse in the style of its other text.</summary>
    private sealed class VerseText
    {
        private readonly string _was;
        private readonly int _format;
        private readonly List<Token> _old;
        private readonly List<(Sign Sign, string Text)> _now;
        private readonly int[] _kept;
        private readonly bool _barLines;
        private readonly int?[] _bars;

        public VerseText(string was, IReadOnlyList<Syllable?> verse, TuneNotes.Result notes, int format)
        {
            _was = was;
            _format = format;
            var tokens = Cut(was, format);
            _old = tokens.FindAll(token => token.Sign != Sign.BarLine);
            _barLines = tokens.Count > _old.Count && notes.Bars is not null;
            _now = Tokens(verse);
            _kept = Kept(_old, _now);
            _bars = BarsOf(notes);
        }

        public string Write()
        {
            if (_old.Count == 0 || _now.Count == 0)
            {
                return string.Empty;
            }

            var text = new StringBuilder(_was[.._old[0].Index]);
            var note = 0;
            int? bar = null;
            for (var i = 0; i < _now.Count; i++)
            {
                var takesNote = _now[i].Sign is not (Sign.Hyphen or Sign.Mark);
                var next = (_now[i].Sign != Sign.Hyphen || BeginsWord(i)) && note < _bars.Length ? _bars[note] : bar;
                if (i > 0)
                {
                    text.Append(Between(i, _barLines && bar is not null && next is not null ? next.Value - bar.Value : 0));
                }

                text.Append(_kept[i] >= 0 ? OldText(_kept[i]) : _now[i].Text);
                bar = next;
                note += takesNote ? 1 : 0;
            }

            return text.Append(_was[EndOf(_old[^1])..]).ToString();
        }

        private static List<(Sign Sign, string Text)> Tokens(IReadOnlyList<Syllable?> verse)
        {
            var last = verse.Count;
            while (last > 0 && verse[last - 1] is null)
            {
                last--;
            }

            var tokens = new List<(Sign Sign, string Text)>();
            var isJoined = false;
            for (var i = 0; i < last; i++)
            {
                if (verse[i] is not { } syllable)
                {
                    tokens.Add((Sign.Skip, "*"));
                    isJoined = false;
                    continue;
                }

                if (!isJoined && syllable.Place is SyllablePlace.Middle or SyllablePlace.End)
                {
                    tokens.Add((Sign.Hyphen, "-"));
                }

                if (syllable.Stress != Stress.Unknown)
                {
                    tokens.Add((Sign.Mark, syllable.Stress == Stress.Strong ? "!strong!" : "!weak!"));
                }

                if (syllable.Late is { } late)
                {
                    tokens.Add((Sign.Mark, $"!{TuneMarks.Late}{OfAWhole(late)}!"));
                }

                tokens.AddRange(syllable.IsHeldOver ? [] : [(Sign.Syllable, Plain(syllable.Text))]);
                tokens.AddRange(Enumerable.Repeat((Sign.Hold, "_"), syllable.IsHeldOver ? syllable.Notes : syllable.Notes - 1));
                isJoined = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle;
                if (isJoined)
                {
                    tokens.Add((Sign.Hyphen, "-"));
                }

                i += syllable.Notes - 1;
            }

            return tokens;
        }

        // A hyphen before the end of a word whose start is on no note or before a note without a syllable.
        private bool BeginsWord(int hyphen) => hyphen == 0 || _now[hyphen - 1].Sign == Sign.Skip;

        // The bar of each note; the pickup's is -1.
        private static int?[] BarsOf(TuneNotes.Result notes)
        {
            var bars = new List<int?>(Enumerable.Repeat((int?)-1, notes.Pickup ?? 0));
            for (var bar = 0; bar < (notes.Bars?.Count ?? 0); bar++)
            {
                bars.AddRange(Enumerable.Repeat((int?)bar, notes.Bars![bar] ?? 0));
            }

            return [.. bars];
        }

        // The index of the old sign for each sign; -1 for a new one.
        private static int[] Kept(List<Token> old, List<(Sign Sign, string Text)> now)
        {
            bool Same(int was, int at) => old[was].Sign == now[at].Sign && now[at].Sign switch
            {
                Sign.Syllable => Plain(old[was].Text.Replace('~', ' ')) == now[at].Text,
                Sign.Mark => $"!{old[was].Text}!" == now[at].Text,
                _ => true,
            };
            var kept = new int[now.Count];
            Array.Fill(kept, -1);
            var head = 0;
            while (head < old.Count && head < now.Count && Same(head, head))
            {
                kept[head] = head;
                head++;
            }

            var tail = 0;
            while (tail < old.Count - head && tail < now.Count - head && Same(old.Count - 1 - tail, now.Count - 1 - tail))
            {
                tail++;
                kept[^tail] = old.Count - tail;
            }

            var (rows, columns) = (old.Count - head - tail, now.Count - head - tail);
            if ((long)rows * columns > MostCompared)
            {
                return kept;
            }

            var common = new int[rows + 1, columns + 1];
            for (var i = rows - 1; i >= 0; i--)
            {
                for (var j = columns - 1; j >= 0; j--)
                {
                    common[i, j] = Same(head + i, head + j) ? common[i + 1, j + 1] + 1 : Math.Max(common[i + 1, j], common[i, j + 1]);
                }
            }

            for (int i = 0, j = 0; i < rows && j < columns;)
            {
                if (Same(head + i, head + j))
                {
                    kept[head + j++] = head + i++;
                }
                else if (common[i + 1, j] >= common[i, j + 1])
                {
                    i++;
                }
                else
                {
                    j++;
                }
            }

            return kept;
        }

        // A mark is between two exclamation marks.
        private static int EndOf(Token token) => token.Index + token.Text.Length + (token.Sign == Sign.Mark ? 2 : 0);

        private string OldText(int index) => _was[_old[index].Index..EndOf(_old[index])];

        // The text before a sign: unchanged, as far as the bar lines are right.
        private string Between(int at, int crossed)
        {
            var was = _kept[at] > 0 ? _was[EndOf(_old[_kept[at] - 1]).._old[_kept[at]].Index]
                : _kept[at] < 0 && _kept[at - 1] >= 0 && _kept[at - 1] + 1 < _old.Count ? _was[EndOf(_old[_kept[at - 1]]).._old[_kept[at - 1] + 1].Index]
                : null;
            var joined = (_now[at].Sign == Sign.Hyphen && !BeginsWord(at)) || _now[at - 1].Sign is Sign.Hyphen or Sign.Mark;
            if (was is not null)
            {
                var lines = Cut(was, _format).Count;
                var apart = was.Length > 0 || joined || _now[at].Sign is Sign.Hold or Sign.Hyphen;
                if (apart && (crossed == 0 ? lines == 0 : lines >= 1 && lines <= crossed))
                {
                    return was;
                }
            }

            if (was?.IndexOf('\n') is { } lineBreak and >= 0)
            {
                var rest = was[lineBreak..].Replace("|", string.Empty, StringComparison.Ordinal);
                return crossed > 0 ? " |" + rest : rest;
            }

            return crossed > 0 ? " | " : joined || _now[at].Sign == Sign.Hold ? string.Empty : " ";
        }
    }
}
