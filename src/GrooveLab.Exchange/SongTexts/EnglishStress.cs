using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>
/// The stress of each sung syllable of English words, from a pronouncing dictionary (<c>EnglishStressTable</c>, <c>EnglishWords</c>). It says nothing about
/// words in other languages, nor about a syllable on which pronunciations differ.
/// </summary>
public static class EnglishStress
{
    // A verse with fewer different words is judged with the rest of the song.
    private const int EnoughWords = 8;

    // Fewer different words without a function word could be of any language: "Ave Maria".
    private const int FewestWords = 4;

    // Measured on the songs of the tests and of shared/data: the dictionary has 38 to 82 % of the different words of verses in German, French, Italian, Latin,
    // Spanish and Norwegian, many as names, and none of them is a function word of English alone; of English verses it has 84 to 100 %, and 4 to 38 % of the
    // words are such function words. The lower limits are for verses with many names or words in dialect.
    private const double KnownWithFunctionWords = 0.6;
    private const double FunctionWords = 0.1;
    private const double KnownWithOne = 0.8;
    private const double KnownAlone = 0.9;

    /// <summary>The stresses of a verse, which is judged by itself to be English or not. One for each note.</summary>
    /// <param name="verse">A syllable or null for each note, as in <see cref="TuneVoice.Verses"/>.</param>
    public static IReadOnlyList<SyllableStress> Of(IReadOnlyList<Syllable?> verse) => OfSong([verse])[0];

    /// <summary>
    /// The stresses of the verses of a song, for each verse one for each note. A mark of the score (<see cref="Syllable.Stress"/>) comes first, in any
    /// language. A note that continues a syllable is <see cref="SyllableStress.Held"/>. In words of several syllables the primary stress is stressed, the secondary
    /// stress unknown: it is stronger than the syllables beside it and weaker than the primary stress, which two values cannot say, and the dictionary marks
    /// it unevenly. In words of one syllable the function words are unstressed, and others stressed; those that are sung either way, such as "not"
    /// or "all", are unknown. Verses with few words are judged together to be English or not; all others by themselves.
    /// </summary>
    /// <param name="verses">The verses, each as in <see cref="TuneVoice.Verses"/>, in any number and of any length.</param>
    public static IReadOnlyList<IReadOnlyList<SyllableStress>> OfSong(IReadOnlyList<IReadOnlyList<Syllable?>> verses)
    {
        var inSong = For(verses);
        return [.. verses.Select(inSong)];
    }

    /// <summary>What gives the stresses of any verse of a song, as <see cref="OfSong"/> does.</summary>
    /// <param name="song">All verses of the song; those with few words are judged by all of them together.</param>
    public static Func<IReadOnlyList<Syllable?>, IReadOnlyList<SyllableStress>> For(IReadOnlyList<IReadOnlyList<Syllable?>> song)
    {
        var whole = new Lazy<bool>(() => IsEnglish([.. song.SelectMany(SungWords)]));
        return verse =>
        {
            var sung = SungWords(verse);
            return Stresses(verse, (Different(sung) < EnoughWords ? whole.Value : IsEnglish(sung)) ? sung : []);
        };
    }

    private static int Different(IReadOnlyList<SungWord> words) => words.Select(word => word.Text).Distinct(StringComparer.Ordinal).Count();

    private static bool IsEnglish(IReadOnlyList<SungWord> words)
    {
        var whole = words.Where(word => word.IsWhole).Select(word => word.Text).ToList();
        var different = whole.Distinct(StringComparer.Ordinal).ToList();
        if (different.Count == 0)
        {
            return false;
        }

        var known = (double)different.Count(EnglishWords.IsKnown) / different.Count;
        var function = whole.Count(EnglishWords.IsOnlyEnglish);
        return (known >= KnownWithFunctionWords && function >= FunctionWords * whole.Count)
            || (known >= KnownWithOne && function > 0)
            || (known >= KnownAlone && different.Count >= FewestWords);
    }

    private static IReadOnlyList<SyllableStress> Stresses(IReadOnlyList<Syllable?> verse, IReadOnlyList<SungWord> words)
    {
        var stresses = new SyllableStress[verse.Count];
        var hasWord = new bool[verse.Count];
        foreach (var word in words.Where(word => word.IsWhole))
        {
            var found = EnglishWords.StressesOf([.. word.Parts.Select(part => part.Text)]);
            for (var i = 0; i < found.Count; i++)
            {
                var note = word.Parts[i].Note;
                stresses[note] = hasWord[note] ? Together(stresses[note], found[i]) : found[i];
                hasWord[note] = true;
            }
        }

        // Marks and held notes come first.
        var marked = SungStresses.Marked(verse);
        return [.. stresses.Select((stress, note) => marked[note] == SyllableStress.Unknown ? stress : marked[note])];
    }

    // Two words on one note are stressed when one of them is.
    private static SyllableStress Together(SyllableStress one, SyllableStress other) => (one, other) switch
    {
        (SyllableStress.Stressed, _) or (_, SyllableStress.Stressed) => SyllableStress.Stressed,
        (SyllableStress.Unstressed, SyllableStress.Unstressed) => SyllableStress.Unstressed,
        _ => SyllableStress.Unknown,
    };

    private static List<SungWord> SungWords(IReadOnlyList<Syllable?> verse)
    {
        var words = new List<SungWord>();
        SungWord? open = null;
        for (var note = 0; note < verse.Count; note++)
        {
            if (verse[note] is not { IsHeldOver: false } syllable)
            {
                continue;
            }

            var continues = syllable.Place is SyllablePlace.Middle or SyllablePlace.End;
            var goesOn = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle;
            var texts = EnglishWords.Divided(syllable.Text);
            for (var i = 0; i < texts.Count; i++)
            {
                if (i > 0 || !continues || open is null)
                {
                    Close();
                    open = new SungWord { IsWhole = i > 0 || !continues };
                }

                open.Parts.Add(new SungPart(note, texts[i]));
            }

            if (!goesOn)
            {
                Close();
            }
        }

        // A word that goes on in another section is not whole.
        if (open is not null)
        {
            open.IsWhole = false;
            Close();
        }

        return words;

        void Close()
        {
            if (open is { Text.Length: > 0 })
            {
                words.Add(open);
            }

            open = null;
        }
    }

    private sealed record SungPart(int Note, string Text);

    private sealed class SungWord
    {
        public List<SungPart> Parts { get; } = [];

        public bool IsWhole { get; set; } = true;

        public string Text => string.Concat(Parts.Select(part => part.Text));
    }
}
