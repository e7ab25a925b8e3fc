using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>Makes a verse from the words on notes.</summary>
internal static class VerseWords
{
    /// <summary>A syllable or null for each note, tied notes counted once. A syllable is held over the following notes without one while
    /// an extender, a hyphen or a slur says so.</summary>
    /// <param name="steps">Notes and rests.</param>
    /// <param name="lap">The time through the form.</param>
    public static List<Syllable?> Of(IEnumerable<Step> steps, int lap)
    {
        var verse = new List<Syllable?>();
        var current = -1;
        var extends = false;
        var slurs = 0;
        foreach (var step in steps)
        {
            if (step.Pitch is null)
            {
                extends = false;
                continue;
            }

            var isNote = !step.TiedFrom || verse.Count == 0;
            var lyric = lap < step.Lyrics.Count ? step.Lyrics[lap] : null;
            if (isNote && lyric is { Parts.Count: > 0 } && Syllable.Of(lyric) is var syllable && Plain(syllable.Text, verse.TrueForAll(other => other is null)) is { Length: > 0 } text)
            {
                syllable = syllable with { Text = text };
                var goesOn = syllable.Place is SyllablePlace.Middle or SyllablePlace.End;

                // A hyphen that only one of two neighbours has is none.
                if (current >= 0 && goesOn != (verse[current]!.Place is SyllablePlace.Begin or SyllablePlace.Middle))
                {
                    verse[current] = verse[current]! with { Place = verse[current]!.Place is SyllablePlace.Begin or SyllablePlace.Single ? SyllablePlace.Single : SyllablePlace.End };
                    syllable = syllable with { Place = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? SyllablePlace.Begin : SyllablePlace.Single };
                }

                current = verse.Count;
                verse.Add(syllable);
                extends = lyric.Extender is not Extender.None || verse[current]!.Place is SyllablePlace.Begin or SyllablePlace.Middle;
                slurs = 0;
            }
            else if (isNote)
            {
                verse.Add(null);
                if (current >= 0 && (extends || slurs > 0 || lyric is { Extender: not Extender.None }))
                {
                    verse[current] = verse[current]! with { Notes = verse[current]!.Notes + 1 };
                    extends = extends && lyric is not { Extender: Extender.Stop };
                }
                else
                {
                    current = -1;
                }
            }

            slurs += step.Marks.Count(mark => mark is { Kind: MarkKind.Slur, Edge: MarkEdge.Start }) - step.Marks.Count(mark => mark is { Kind: MarkKind.Slur, Edge: MarkEdge.Stop });
            slurs = Math.Max(0, slurs);
        }

        return verse;
    }

    // One plain space between words on one note; the number before a verse is no word. Empty if the text has no visible sign.
    private static string Plain(string text, bool isFirst)
    {
        var words = new string([.. text.Select(sign => char.IsControl(sign) ? ' ' : sign)]).Split(default(char[]), StringSplitOptions.RemoveEmptyEntries);
        var isNumbered = isFirst && words.Length > 1 && words[0].Length <= 3 && words[0][^1] is '.' or ')' && words[0][..^1].All(char.IsAsciiDigit);
        // Two syllables on one note, written with a hyphen between spaces, are one word.
        return string.Join(' ', isNumbered ? words[1..] : words).Replace(" - ", "-", StringComparison.Ordinal);
    }
}
