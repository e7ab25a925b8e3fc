namespace GrooveLab.Exchange.SongTexts;

/// <summary>Divides a word into syllables as it is sung. A hyphen in the word always divides; where there is none, the letters decide.</summary>
/// <remarks>Rules for English spelling, from memory: a syllable for each group of vowels, none for a silent e; consonants between two vowels go to
/// the second, except that a pair that cannot begin a word is divided. For other languages only the silent e differs: it is sung. An estimate;
/// the tests compare its counts with a pronouncing dictionary.</remarks>
internal static class WordSyllables
{
    // Two or three consonants with which a syllable can begin.
    private static readonly HashSet<string> Beginnings = new(StringComparer.Ordinal)
    {
        "bl", "br", "ch", "cl", "cr", "dr", "fl", "fr", "gl", "gr", "kl", "kn", "kr", "ph", "pl", "pr", "qu", "sc", "sh", "sk", "sl", "sm", "sn",
        "sp", "st", "sw", "th", "tr", "tw", "wh", "wr", "scr", "shr", "spl", "spr", "str", "thr", "sch",
    };

    // Vowels that sound as one; every other neighbour begins a syllable of its own ("li-on", "po-em").
    private static readonly HashSet<string> Together = new(StringComparer.Ordinal)
    {
        "ai", "au", "aw", "ay", "ea", "ee", "ei", "eu", "ew", "ey", "ie", "oa", "oe", "oi", "oo", "ou", "ow", "oy", "ue", "ui", "uy", "aa", "uo", "ye", "yo", "ya", "yu",
        "äu", "eau", "you", "yea", "yie", "yei", "yai", "ieu", "iew",
    };

    /// <summary>Divides a word. The parts joined are the word without its dividing hyphens.</summary>
    /// <param name="word">A word with any punctuation before and after it.</param>
    /// <param name="isEnglish">Whether a last e is silent as in English.</param>
    public static IReadOnlyList<string> Of(string word, bool isEnglish)
    {
        var parts = new List<string>();
        foreach (var part in word.Split('-', StringSplitOptions.RemoveEmptyEntries))
        {
            // A hyphen is a person's own division: such a word is not divided further.
            if (word.Trim('-').Contains('-', StringComparison.Ordinal))
            {
                parts.Add(part);
            }
            else
            {
                parts.AddRange(Divided(part, isEnglish));
            }
        }

        // Signs without a letter ("--", "...") belong to what is before them.
        for (var i = parts.Count - 1; i >= 0; i--)
        {
            if (!parts[i].Any(char.IsLetterOrDigit) && parts.Count > 1)
            {
                var near = i > 0 ? i - 1 : 0;
                parts[near] = i > 0 ? parts[near] + parts[i] : parts[0] + parts[1];
                parts.RemoveAt(i > 0 ? i : 1);
            }
        }

        return parts.Count == 0 ? [word] : parts;
    }

    private static List<string> Divided(string word, bool isEnglish)
    {
        var plain = Plain(word);
        var vowels = VowelGroups(plain, isEnglish);
        if (vowels.Count < 2)
        {
            return [word];
        }

        var result = new List<string>();
        var start = 0;
        for (var i = 0; i + 1 < vowels.Count; i++)
        {
            var cut = Cut(plain, vowels[i].End, vowels[i + 1].Start, isEnglish);
            result.Add(word[start..cut]);
            start = cut;
        }

        result.Add(word[start..]);
        return result;
    }

    // Where the consonants between two vowels are divided.
    private static int Cut(string plain, int from, int to, bool isEnglish)
    {
        var between = plain[from..to];
        if (between.Length <= 1)
        {
            return isEnglish && between == "x" ? to : from;
        }

        // "swing-ing", "danc-er" would need a dictionary; ng and ck always end a syllable before a vowel.
        if (isEnglish && between is "ng" or "ck")
        {
            return to;
        }

        var apostrophe = between.IndexOfAny(['\'', '’']);
        if (apostrophe >= 0)
        {
            return from + apostrophe;
        }

        for (var length = Math.Min(3, between.Length); length >= 2; length--)
        {
            if (Beginnings.Contains(between[^length..]))
            {
                // "mis-ter", "fas-ter": s belongs to the syllable before when it has nothing else.
                var cut = to - length;
                return cut == from && between.Length == 2 && between[0] == 's' && between != "sh" ? from + 1 : cut;
            }
        }

        return to - 1;
    }

    private static List<(int Start, int End)> VowelGroups(string plain, bool isEnglish)
    {
        var groups = new List<(int Start, int End)>();
        for (var i = 0; i < plain.Length;)
        {
            if (!IsVowel(plain, i))
            {
                i++;
                continue;
            }

            var end = i + 1;
            while (end < plain.Length && IsVowel(plain, end) && IsOneSound(plain, i, end, isEnglish))
            {
                end++;
            }

            groups.Add((i, end));
            i = end;
        }

        if (isEnglish)
        {
            DropSilent(plain, groups);
        }

        return groups;
    }

    private static bool IsOneSound(string plain, int start, int at, bool isEnglish)
    {
        var sound = plain[start..(at + 1)];
        if (Together.Contains(sound))
        {
            // "be-ing", "see-ing": the ending is a syllable of its own.
            return !(plain[at] == 'i' && at > 0 && plain[at..].StartsWith("ing", StringComparison.Ordinal));
        }

        // "na-tion", "spe-cial", "pre-cious", "re-gion": i is not sung before the vowel.
        if (isEnglish && sound.Length == 2 && sound[0] == 'i' && start > 1 && plain[start - 1] is 't' or 's' or 'c' or 'g' or 'x' && sound[1] is 'o' or 'a' or 'e')
        {
            return plain[start - 1] != 's' || plain[start..].StartsWith("ion", StringComparison.Ordinal);
        }

        return isEnglish && sound is "iou" or "eou" or "eous" or "ious";
    }

    private static void DropSilent(string plain, List<(int Start, int End)> groups)
    {
        if (groups.Count < 2)
        {
            return;
        }

        var length = plain.Length;
        while (length > 0 && !char.IsLetter(plain[length - 1]))
        {
            length--;
        }

        var last = groups[^1];
        if (last.End - last.Start != 1 || plain[last.Start] != 'e')
        {
            return;
        }

        var tail = plain[last.Start..length];
        var before = last.Start > 0 ? plain[last.Start - 1] : ' ';
        var twoBefore = last.Start > 1 ? plain[last.Start - 2] : ' ';
        var isTable = before == 'l' && !IsVowel(plain, last.Start - 2) && twoBefore != 'l' && char.IsLetter(twoBefore);
        var silent = tail switch
        {
            "e" => !isTable,
            "es" => !isTable && !(before is 's' or 'z' or 'c' or 'g' or 'x' || (before == 'h' && twoBefore is 's' or 'c')),
            "ed" => before is not ('t' or 'd') && !isTable,
            "ely" or "eful" or "eless" or "ement" => true,
            _ => false,
        };
        if (silent)
        {
            groups.RemoveAt(groups.Count - 1);
        }
    }

    // y is a vowel unless it begins a syllable before another vowel ("yes", "be-yond").
    private static bool IsVowel(string plain, int at) => at >= 0 && at < plain.Length && (plain[at] switch
    {
        'a' or 'e' or 'i' or 'o' => true,
        'u' => at == 0 || plain[at - 1] != 'q',
        'y' => !(at + 1 < plain.Length && plain[at + 1] is 'a' or 'e' or 'i' or 'o' or 'u') || (at > 0 && char.IsLetter(plain[at - 1]) && !IsVowel(plain, at - 1)),
        _ => false,
    });

    // One plain lower-case letter for each character, without accents.
    private static string Plain(string word) => string.Create(word.Length, word, (plain, from) =>
    {
        for (var i = 0; i < from.Length; i++)
        {
            var letter = char.ToLowerInvariant(from[i]);
            plain[i] = letter switch
            {
                'à' or 'á' or 'â' or 'ã' or 'ä' or 'å' or 'ā' or 'ă' or 'ą' or 'æ' or 'ả' or 'ạ' or 'ǎ' => 'a',
                'è' or 'é' or 'ê' or 'ë' or 'ē' or 'ĕ' or 'ė' or 'ę' or 'ě' or 'ẻ' or 'ẽ' or 'ẹ' => 'e',
                'ì' or 'í' or 'î' or 'ï' or 'ī' or 'ĭ' or 'į' or 'ı' or 'ỉ' or 'ị' => 'i',
                'ò' or 'ó' or 'ô' or 'õ' or 'ö' or 'ø' or 'ō' or 'ŏ' or 'ő' or 'œ' or 'ơ' or 'ỏ' or 'ọ' => 'o',
                'ù' or 'ú' or 'û' or 'ü' or 'ū' or 'ŭ' or 'ů' or 'ű' or 'ų' or 'ư' or 'ủ' or 'ụ' => 'u',
                'ý' or 'ÿ' or 'ŷ' => 'y',
                _ => letter,
            };
        }
    });
}
