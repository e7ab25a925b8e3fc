using System.Buffers;
using System.Text;
using GrooveLab.Music.Recast;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>
/// The stresses of an English word as it is sung: by the dictionary, also where an apostrophe stands for letters ("heav'n", "wand'ring"), where two vowels
/// share a note, and for endings and compounds that the dictionary lacks. All rules but the dictionary: common practice, no source.
/// </summary>
internal static class EnglishWords
{
    private const char Primary = '1';
    private const char None = '0';

    // No word of the dictionary has more letters.
    private const int Longest = 60;

    private static readonly string[] Endings = ["eth", "est", "ed"];
    private static readonly SearchValues<char> Vowels = SearchValues.Create("aeiouy");

    // What an apostrophe stands for: "heav'n", "fam'ly", "mem'ry", "nat'ral", "sep'rate", "o'er", "glor'ious".
    private static readonly string[] Omitted = ["e", "i", "o", "u", "a", "v", ""];

    // Articles, short prepositions, conjunctions, auxiliaries and pronouns, also old and poetic ones. Only here are the unstressed words of one syllable.
    private static readonly HashSet<string> Function = Words(
        """
        a an the th' o o' of to t' in i' on at by for from with w' as than till 'til ere o'er 'neath 'gainst 'mid 'mongst 'twixt 'tween
        and an' 'n' or nor but if
        am is are was were be been art wert wast has have had hath hast hadst do does did dost doth didst can could shall should will would may might must
        canst couldst shalt shouldst wilt wouldst mayst mightst 'tis 'twas 'twere 'twill 'twould
        i me my you your he him his she her it its we us our they them 'em their thou thee thy ye 't
        """);

    // Words of one syllable that are sung stressed or not, as the sense has it: negatives, demonstratives, question words, quantities and adverbs.
    private static readonly HashSet<string> Either = Words(
        """
        no not nay yea yes all both each some such one none more most much this that these those what who whom whose which when where why how
        here there then now thus so too just yet still while since though through off out up down round own mine thine
        e'er ne'er e'en oh ah lo ho hey can't don't won't shan't ain't
        """);

    // Function words that other languages do not write in the same way; "in", "on", "me", "a", "am", "will", "die" and "he" are also words of theirs.
    private static readonly HashSet<string> OnlyEnglish = Words(
        """
        the th' and of to with from for that this by my you your she it its our they them their thou thee thy his
        is are were been have has hath does did doth could shall should would might must not but if than 'tis 'twas o'er
        """);

    private static EnglishStressTable Table => EnglishStressTable.Instance;

    /// <summary>True when the dictionary or the function words have the word. It is <see cref="Cleaned"/>.</summary>
    public static bool IsKnown(string word) => word.Length <= Longest
        && (Spellings(word).Any(one => Function.Contains(one) || Table.Of(one).Count > 0) || Restorations(word).Any(one => Table.Of(one.Word).Count > 0));

    /// <summary>True for a function word that no other language is likely to have. The word is <see cref="Cleaned"/>.</summary>
    public static bool IsOnlyEnglish(string word) => Spellings(word).Any(OnlyEnglish.Contains);

    /// <summary>The words or parts of words of a sung syllable, each <see cref="Cleaned"/>: two where an elision joins them, "to an"; at least one.</summary>
    public static IReadOnlyList<string> Divided(string text)
    {
        // A space, an undertie, a low line or a tilde for an elision; a long dash between words.
        string[] parts = [.. text.Split([' ', '\u00A0', '‿', '_', '~', '—', '–']).Select(Cleaned).Where(part => part.Length > 0)];
        return parts.Length > 0 ? parts : [""];
    }

    /// <summary>The letters and apostrophes in lower case. Apostrophes are plain; the accent over a sung e ("blessèd") and all punctuation are left out.</summary>
    public static string Cleaned(string text)
    {
        var cleaned = new StringBuilder(text.Length);
        foreach (var letter in text)
        {
            if (letter is '\'' or '’' or '‘' or 'ʼ' or '′' or '`' or '´')
            {
                cleaned.Append('\'');
            }
            else if (char.IsLetterOrDigit(letter) || IsAccent(letter))
            {
                cleaned.Append(char.ToLowerInvariant(letter));
            }
        }

        if (cleaned.Length > 1 && cleaned[^1] == 'd' && (cleaned[^2] is 'è' or 'é' || IsAccent(cleaned[^2])))
        {
            var isOneSign = !IsAccent(cleaned[^2]);
            cleaned.Length -= 2;
            cleaned.Append(isOneSign ? "ed" : "d");
        }

        return cleaned.ToString();
    }

    /// <summary>The stress of each sung part of a word; all unknown if the word is not known with as many syllables.</summary>
    /// <param name="parts">The parts, <see cref="Cleaned"/>, at least one.</param>
    public static IReadOnlyList<SyllableStress> StressesOf(IReadOnlyList<string> parts)
    {
        var word = string.Concat(parts);
        if (parts.Count == 1 && OfOneSyllable(word) is { } stress)
        {
            return [stress];
        }

        var digits = word.Length > Longest ? "" : Pronounced(parts) ?? WithEnding(parts) ?? Compound(parts) ?? "";
        return [.. parts.Select((_, i) => i < digits.Length ? StressOf(digits[i]) : SyllableStress.Unknown)];
    }

    // A grave or acute accent as a sign of its own after its letter.
    private static bool IsAccent(char sign) => sign is '\u0300' or '\u0301';

    private static HashSet<string> Words(string text) => new(text.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries), StringComparer.Ordinal);

    private static SyllableStress StressOf(char digit) => digit switch
    {
        Primary => SyllableStress.Stressed,
        None => SyllableStress.Unstressed,
        _ => SyllableStress.Unknown,
    };

    // A function word by itself or contracted with another ("I'll", "thou'rt", "he's"); null for other words.
    private static SyllableStress? OfOneSyllable(string word)
    {
        foreach (var spelling in Spellings(word))
        {
            if (Either.Contains(spelling))
            {
                return SyllableStress.Unknown;
            }

            if (Function.Contains(spelling))
            {
                return SyllableStress.Unstressed;
            }

            var apostrophe = spelling.LastIndexOf('\'');
            var before = apostrophe < 0 ? "" : spelling[..apostrophe];
            if (apostrophe > 0 && spelling[(apostrophe + 1)..] is "ll" or "re" or "ve" or "d" or "s" or "m" or "rt" or "st" or "lt" or "t" or "dst" or "er")
            {
                if (Function.Contains(before))
                {
                    return SyllableStress.Unstressed;
                }

                if (Either.Contains(before))
                {
                    return SyllableStress.Unknown;
                }
            }
        }

        return null;
    }

    // The word as it stands, and without quotation marks that look like apostrophes.
    private static IEnumerable<string> Spellings(string word)
    {
        yield return word;
        if (word.StartsWith('\'') || word.EndsWith('\''))
        {
            yield return word.TrimEnd('\'');
            yield return word.TrimStart('\'');
            yield return word.Trim('\'');
        }
    }

    // The digit of each part, from the dictionary; null if the word is not in it or its syllables do not agree.
    private static string? Pronounced(IReadOnlyList<string> parts)
    {
        var whole = string.Concat(parts);
        foreach (var spelling in Spellings(whole))
        {
            if (Found(spelling, parts) is { } digits)
            {
                return digits;
            }
        }

        var word = whole.Trim('\'');
        if (word.EndsWith("'s", StringComparison.Ordinal) && Found(word[..^2], parts) is { } owner)
        {
            return owner;
        }

        if (whole.EndsWith("in'", StringComparison.Ordinal) && Found(word + "g", parts) is { } ing)
        {
            return ing;
        }

        return Restored(parts);
    }

    private static string? Found(string word, IReadOnlyList<string> parts)
    {
        var known = Table.Of(word);
        return known.Count == 0 ? null : Merged(known, parts.Count) ?? (parts.Count == 1 ? $"{Primary}" : Shared(known, parts));
    }

    // What the pronunciations with that number of syllables agree on. One without any stress is a weak form: "because".
    private static string? Merged(IReadOnlyList<string> pronunciations, int syllables)
    {
        var fitting = pronunciations.Where(one => one.Length == syllables).ToList();
        if (fitting.Exists(one => one.Contains(Primary, StringComparison.Ordinal)))
        {
            fitting.RemoveAll(one => !one.Contains(Primary, StringComparison.Ordinal));
        }

        return fitting.Count == 0 ? null
            : string.Concat(Enumerable.Range(0, syllables).Select(i => fitting.TrueForAll(one => one[i] == fitting[0][i]) ? fitting[0][i] : '?'));
    }

    // Two vowels on one note, without an apostrophe: "o-pening", "heaven" in two. The spelling must show as many vowels as the dictionary has.
    private static string? Shared(IReadOnlyList<string> pronunciations, IReadOnlyList<string> parts)
    {
        int[] vowels = [.. parts.Select(part => WordSyllables.Of(part, isEnglish: true).Count)];
        if (Merged(pronunciations, vowels.Sum()) is not { } digits)
        {
            return null;
        }

        var at = 0;
        return string.Concat(vowels.Select(count =>
        {
            var own = digits.Substring(at, count);
            at += count;
            return own.Contains(Primary, StringComparison.Ordinal) ? Primary : own.All(digit => digit == None) ? None : '?';
        }));
    }

    // An apostrophe inside the word stands for a vowel that is not sung, or for none that was: "heav'n", "lov'd", "ev'ning".
    private static string? Restored(IReadOnlyList<string> parts)
    {
        foreach (var (word, at) in Restorations(string.Concat(parts)))
        {
            var known = Table.Of(word);
            if (known.Count > 0 && (Merged(known, parts.Count) ?? WithoutVowel(Merged(known, parts.Count + 1), parts, at)) is { } digits)
            {
                return digits;
            }
        }

        return null;
    }

    // The words that one apostrophe inside can stand for, with its place.
    private static IEnumerable<(string Word, int Apostrophe)> Restorations(string word)
    {
        for (var at = 1; at < word.Length - 1; at++)
        {
            if (word[at] == '\'')
            {
                foreach (var omitted in Omitted)
                {
                    yield return (word[..at] + omitted + word[(at + 1)..].TrimEnd('\''), at);
                }
            }
        }
    }

    // Leaves out the vowel at the apostrophe: the next after those of the parts before it, and after one in its own part.
    private static string? WithoutVowel(string? digits, IReadOnlyList<string> parts, int apostrophe)
    {
        if (digits is null)
        {
            return null;
        }

        var (part, start) = (0, 0);
        while (start + parts[part].Length <= apostrophe)
        {
            start += parts[part++].Length;
        }

        var vowel = part + (parts[part][..(apostrophe - start)].AsSpan().ContainsAny(Vowels) ? 1 : 0);
        return digits[vowel] == Primary ? null : digits.Remove(vowel, 1);
    }

    // Endings and a beginning that are sung as an unstressed syllable of their own: "lov-eth", "know-est", "fix-ed", "a-sail-ing".
    private static string? WithEnding(IReadOnlyList<string> parts)
    {
        if (parts.Count < 2)
        {
            return string.Concat(parts) is { } word && (word.EndsWith("'st", StringComparison.Ordinal) || word.EndsWith("'d", StringComparison.Ordinal))
                ? Pronounced([word[..word.LastIndexOf('\'')]])
                : null;
        }

        if (parts[0] == "a" && Pronounced([.. parts.Skip(1)]) is { } sailing)
        {
            return None + sailing;
        }

        var whole = string.Concat(parts);
        var ending = Endings.FirstOrDefault(one => whole.EndsWith(one, StringComparison.Ordinal) && parts[^1].Length - one.Length is >= 0 and <= 2);
        if (ending is null || whole.Length - ending.Length < 2)
        {
            return null;
        }

        var stem = whole[..^ending.Length];
        string[] stems =
        [
            stem, stem + "e", stem[^1] == stem[^2] ? stem[..^1] : stem, stem.EndsWith('i') ? stem[..^1] + "y" : stem, ending == "ed" ? whole : stem,
        ];
        return stems.Select(one => Merged(Table.Of(one), parts.Count - 1)).FirstOrDefault(digits => digits is not null) is { } found ? found + None : null;
    }

    // A compound of a known word and one of one syllable, "e-ven-tide": in the dictionary the primary stress is the first word's in 93 % of those whose
    // sounds are its parts' (12,660 of 13,502 with a first word of one or two syllables). The second word's is a secondary stress or none.
    private static string? Compound(IReadOnlyList<string> parts)
    {
        if (parts.Count < 2)
        {
            return null;
        }

        string[] first = [.. parts.SkipLast(1)];
        return string.Concat(first) is { Length: > 2 } word && !Function.Contains(word) && !Either.Contains(word) && Table.Of(parts[^1]).Any(one => one.Length == 1) && parts[^1].Length > 2
            && Merged(Table.Of(word), first.Length) is { } digits
            ? digits + '?'
            : null;
    }
}
