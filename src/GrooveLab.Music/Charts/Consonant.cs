using System.Globalization;
using System.Text;

namespace GrooveLab.Music.Charts;

/// <summary>The start of a syllable, as far as it matters to the instrument that plays it.</summary>
/// <remarks>Singers put the vowel on the beat and the consonant before it (Sundberg &amp; Bauer-Huppmann 2007, Journal of Voice 21:
/// 285-292). That only m, n, l, v, z, f, s and sh can be held is common practice, no source.</remarks>
public enum Consonant
{
    /// <summary>A vowel, a breath (h) or nothing.</summary>
    None,

    /// <summary>A consonant that stops the sound: p, t, k, b, d, g and all others that cannot be held.</summary>
    Stopped,

    /// <summary>A consonant that can be held: m, n, l, v, z, f, s, sh.</summary>
    Held,
}

/// <summary>Finds the start of syllables.</summary>
public static class Consonants
{
    private const string Vowels =
        "aeiouyæøœáàâäãåāăąéèêëēėęěíìîïīįóòôöõōőúùûüūůűųýÿ" + "αεηιουωάέήίόύώϊϋΐΰ" + "аеёиоуыэюя";

    private const string Breaths = "h";
    private const string HeldOnes = "mnlvzfsμνλβζφσμнлвзфс";

    /// <summary>The start of a syllable; ignores signs before its first letter.</summary>
    public static Consonant Of(string? syllable)
    {
        foreach (var rune in (syllable ?? string.Empty).EnumerateRunes())
        {
            if (!Rune.IsLetter(rune))
            {
                continue;
            }

            var letter = Rune.ToLower(rune, CultureInfo.InvariantCulture).ToString();
            return Vowels.Contains(letter, StringComparison.Ordinal) || Breaths.Contains(letter, StringComparison.Ordinal) ? Consonant.None
                : HeldOnes.Contains(letter, StringComparison.Ordinal) ? Consonant.Held
                : Consonant.Stopped;
        }

        return Consonant.None;
    }
}
