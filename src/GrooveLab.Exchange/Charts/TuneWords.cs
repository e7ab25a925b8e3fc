using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes a verse: syllables and where they are sung.</summary>
internal static class TuneWords
{
    /// <summary>Reads a verse; null when something is wrong, which is then told.</summary>
    /// <param name="text">The verse.</param>
    /// <param name="notes">The notes it is sung on.</param>
    /// <param name="barLines">Where the bars start, from the section's first bar line.</param>
    /// <param name="problems">Takes what is wrong.</param>
    public static IReadOnlyList<Syllable?>? Read(
        TomlString text, IReadOnlyList<TuneNote> notes, IReadOnlyList<Span> barLines, Problems problems)
    {
        var reader = new Reader(text, notes, barLines, problems);
        return reader.Read();
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

        for (var i = 0; i < last; i++)
        {
            var syllable = verse[i];
            if (syllable is null)
            {
                text.Append(" * ");
                continue;
            }

            if (i == 0 && syllable.Place is SyllablePlace.Middle or SyllablePlace.End && text.Length == 0)
            {
                text.Append('-');
            }

            text.Append(Plain(syllable.Text)).Append('_', syllable.Notes - 1);
            text.Append(syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? "-" : " ");
            i += syllable.Notes - 1;
        }

        return string.Join(' ', text.ToString().Split(' ', StringSplitOptions.RemoveEmptyEntries));
    }

    // Signs that mean something in a verse are replaced by ones that look alike.
    private static string Plain(string syllable) => syllable
        .Replace('-', '\u2011')
        .Replace('_', '\u2017')
        .Replace('*', '\u2217')
        .Replace('|', '\u2223')
        .Replace('~', '\u223c')
        .Replace(' ', '~');

    private sealed class Reader(TomlString text, IReadOnlyList<TuneNote> notes, IReadOnlyList<Span> barLines, Problems problems)
    {
        private readonly Syllable?[] _verse = new Syllable?[notes.Count];
        private int _note;
        private int _current = -1;
        private bool _join;
        private bool _tooMany;
        private bool _wrong;

        public IReadOnlyList<Syllable?>? Read()
        {
            var value = text.Value;
            for (var i = 0; i < value.Length; i++)
            {
                switch (value[i])
                {
                    case '-':
                        Join();
                        break;
                    case '_':
                        Extend(i);
                        break;
                    case '*':
                        Skip(i);
                        break;
                    case '|':
                        CheckBarLine(i);
                        break;
                    case var c when char.IsWhiteSpace(c):
                        break;
                    default:
                        var start = i;
                        while (i + 1 < value.Length && !char.IsWhiteSpace(value[i + 1]) && value[i + 1] is not ('-' or '_' or '*' or '|'))
                        {
                            i++;
                        }

                        Sing(value[start..(i + 1)], start);
                        break;
                }
            }

            return _wrong ? null : _verse;
        }

        private void Tell(int index, string what, string accepted)
        {
            problems.Add(text.PlaceOf(index), what, accepted);
            _wrong = true;
        }

        private bool TakeNote(int index, string what)
        {
            if (_note < notes.Count)
            {
                return true;
            }

            if (!_tooMany)
            {
                Tell(
                    index,
                    string.Create(CultureInfo.InvariantCulture, $"there is no note left for {what}: the tune has {notes.Count} notes"),
                    "one syllable a note, tied notes counted once, rests not at all; join words on one note with ~ (the~old)");
                _tooMany = true;
            }

            return false;
        }

        private void Join()
        {
            if (_current >= 0 && _verse[_current] is { } before)
            {
                _verse[_current] = before with
                {
                    Place = before.Place switch
                    {
                        SyllablePlace.Single => SyllablePlace.Begin,
                        SyllablePlace.End => SyllablePlace.Middle,
                        var place => place,
                    },
                };
            }

            _join = true;
        }

        private void Extend(int index)
        {
            if (_current < 0)
            {
                Tell(
                    index,
                    "_ holds a syllable over one more note, but no syllable stands before it",
                    "write * for a note without a syllable");
                return;
            }

            if (TakeNote(index, "_"))
            {
                _verse[_current] = _verse[_current]! with { Notes = _verse[_current]!.Notes + 1 };
                _note++;
            }
        }

        private void Skip(int index)
        {
            if (TakeNote(index, "*"))
            {
                _note++;
            }

            _current = -1;
            _join = false;
        }

        private void Sing(string syllable, int index)
        {
            if (!TakeNote(index, Words.Quote(syllable)))
            {
                return;
            }

            _verse[_note] = new Syllable(syllable.Replace('~', ' '), _join ? SyllablePlace.End : SyllablePlace.Single, 1);
            _join = false;
            _current = _note++;
        }

        // A bar line in the words must lie between the same notes as one of the tune's.
        private void CheckBarLine(int index)
        {
            if (_note == 0 || _note >= notes.Count || _tooMany)
            {
                return;
            }

            var before = notes[_note - 1].Onset;
            var after = notes[_note].Onset;
            var bar = BarsStartedBy(before);
            var line = bar < barLines.Count ? barLines[bar] : after;
            if (bar < barLines.Count && line <= after)
            {
                return;
            }

            var left = notes.Count(note => note.Onset >= after && note.Onset < line);
            Tell(
                index,
                string.Create(
                    CultureInfo.InvariantCulture,
                    $"a bar line stands here, but bar {bar} of the tune has {left} more {(left == 1 ? "note" : "notes")} without a syllable"),
                "write a syllable, _ or * for every note; tied notes count once, rests not at all");
            _tooMany = true;
        }

        private int BarsStartedBy(Span place)
        {
            var low = 0;
            var high = barLines.Count;
            while (low < high)
            {
                var middle = (low + high) / 2;
                if (barLines[middle] <= place)
                {
                    low = middle + 1;
                }
                else
                {
                    high = middle;
                }
            }

            return low;
        }
    }
}
