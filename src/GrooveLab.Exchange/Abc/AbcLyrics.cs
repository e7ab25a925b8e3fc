using System.Globalization;
using System.Text;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Abc;

/// <summary>Puts the syllables of a w: line on the notes of the line of music before it.</summary>
/// <remarks>ABC 2.1, section 5.1, from memory: - divides syllables, _ holds the last one for one more note, * skips a note, ~ joins words on one note, \- is a
/// hyphen, | goes to the next bar. Rests and grace notes take no syllable.</remarks>
internal static class AbcLyrics
{
    private enum Step
    {
        Syllable,
        Hold,
        Skip,
        NextBar,
    }

    /// <summary>Aligns a line of words.</summary>
    /// <param name="text">The value of w:.</param>
    /// <param name="notes">The notes that take a syllable, with the number of their measure.</param>
    /// <param name="verse">The verse, from 1.</param>
    /// <returns>The number of syllables for which no note was left.</returns>
    public static int Align(string text, IReadOnlyList<(AbcEvent Note, int Measure)> notes, int verse)
    {
        var at = 0;
        var left = 0;
        var held = false;
        var number = verse.ToString(CultureInfo.InvariantCulture);
        foreach (var (step, syllable, place) in Steps(text))
        {
            switch (step)
            {
                case Step.NextBar:
                    if (at > 0 && at < notes.Count)
                    {
                        var measure = notes[at - 1].Measure;
                        while (at < notes.Count && notes[at].Measure == measure)
                        {
                            at++;
                        }
                    }

                    break;
                case Step.Skip:
                    at++;
                    held = false;
                    break;
                case Step.Hold:
                    if (at < notes.Count && at > 0 && (held || notes[at - 1].Note.Lyrics.ContainsKey(verse)))
                    {
                        notes[at].Note.Lyrics[verse] = new Lyric { Number = number, Extender = Extender.Continue };
                        held = true;
                    }

                    at++;
                    break;
                default:
                    if (at < notes.Count)
                    {
                        notes[at].Note.Lyrics[verse] = new Lyric { Number = number, Parts = [.. Parts(syllable, place)] };
                    }
                    else
                    {
                        left++;
                    }

                    at++;
                    held = false;
                    break;
            }
        }

        return left;
    }

    // ~ joins words on one note: an elision.
    private static IEnumerable<LyricPart> Parts(string syllable, WordPlace place)
    {
        var words = syllable.Split('~', StringSplitOptions.RemoveEmptyEntries);
        for (var i = 0; i < words.Length; i++)
        {
            yield return new LyricPart(words[i], words.Length == 1 ? place
                : i == 0 ? place is WordPlace.Begin or WordPlace.Single ? WordPlace.Single : WordPlace.End
                : i == words.Length - 1 && place is WordPlace.Begin or WordPlace.Middle ? WordPlace.Begin : WordPlace.Single)
            {
                Join = i == 0 ? LyricJoin.None : LyricJoin.Elision,
                JoinSign = i == 0 ? null : " ",
            };
        }
    }

    private static IEnumerable<(Step Step, string Syllable, WordPlace Place)> Steps(string text)
    {
        var syllable = new StringBuilder();
        var inWord = false;
        (Step, string, WordPlace)? Take(bool goesOn)
        {
            if (syllable.Length == 0)
            {
                return null;
            }

            var place = goesOn ? inWord ? WordPlace.Middle : WordPlace.Begin : inWord ? WordPlace.End : WordPlace.Single;
            var result = (Step.Syllable, syllable.ToString(), place);
            syllable.Clear();
            inWord = goesOn;
            return result;
        }

        for (var i = 0; i < text.Length; i++)
        {
            var sign = text[i];
            if (sign == '\\' && i + 1 < text.Length && text[i + 1] == '-')
            {
                syllable.Append('-');
                i++;
                continue;
            }

            if (sign is not (' ' or '\t' or '-' or '_' or '*' or '|'))
            {
                syllable.Append(sign);
                continue;
            }

            // A hyphen may stand apart: "light -ly" and "light- ly" are one word.
            var goesOn = sign == '-' || (sign is ' ' or '\t' or '_' && NextSign(text, i) == '-');
            if (Take(goesOn) is { } made)
            {
                yield return made;
                if (sign == '-')
                {
                    continue;
                }
            }

            switch (sign)
            {
                case '-' when i > 0 && text[i - 1] is '-' or ' ' or '\t' && inWord:
                    // Further hyphens, and one after a space, hold the syllable for further notes.
                    yield return (Step.Hold, "", WordPlace.Single);
                    break;
                case '_':
                    yield return (Step.Hold, "", WordPlace.Single);
                    break;
                case '*':
                    yield return (Step.Skip, "", WordPlace.Single);
                    break;
                case '|':
                    yield return (Step.NextBar, "", WordPlace.Single);
                    break;
            }
        }

        if (Take(false) is { } last)
        {
            yield return last;
        }
    }

    private static char NextSign(string text, int at)
    {
        while (at < text.Length && text[at] is ' ' or '\t' or '_')
        {
            at++;
            if (at == text.Length)
            {
                return ' ';
            }
        }

        return at < text.Length ? text[at] : ' ';
    }
}
