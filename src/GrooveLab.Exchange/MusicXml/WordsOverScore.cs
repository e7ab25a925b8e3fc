using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Words that may be a jump or its target, at their place.</summary>
/// <param name="Measure">Index of the measure.</param>
/// <param name="At">Distance from the start of the measure.</param>
/// <param name="Kind">What they say.</param>
/// <param name="ToCoda">True for a jump back with "al Coda".</param>
/// <param name="Origin">Where they are.</param>
internal sealed record WordJump(int Measure, Span At, JumpKind Kind, bool ToCoda, Origin Origin);

/// <summary>The usual words over scores. Common practice, no source.</summary>
internal static class WordsOverScore
{
    private const int LongestJump = 60;

    private static readonly HashSet<string> TempoWords = new(StringComparer.OrdinalIgnoreCase)
    {
        // Italian.
        "grave", "largo", "larghetto", "lento", "lentamente", "adagio", "adagietto", "andante", "andantino", "moderato", "allegretto", "allegro",
        "vivace", "vivo", "vivacissimo", "presto", "prestissimo", "rit", "riten", "ritenuto", "ritard", "ritardando", "rall", "rallentando", "accel",
        "accelerando", "string", "stringendo", "allargando",
        // English, German, French.
        "slow", "slowly", "fast", "faster", "slower", "moderately", "lively", "briskly", "quickly", "langsam", "langsamer", "mäßig", "mässig",
        "bewegt", "schnell", "schneller", "lebhaft", "rasch", "ruhig", "geschwind", "lent", "lentement", "modéré", "vif", "vite", "animé",
    };

    private static readonly HashSet<string> AfterJump = new(StringComparer.Ordinal)
    {
        "al", "alla", "e", "ed", "sin", "senza", "con", "to", "till", "until", "and", "at", "poi", "without", "with", "segno", "no", "then", "for", "from",
    };

    /// <summary>Whether words are a tempo: they begin with a usual word for one, or are "a tempo", "tempo primo" and the like.</summary>
    public static bool IsTempo(string words)
    {
        var tokens = Tokens(words);
        return tokens.Count is > 0 and <= 8
            && (TempoWords.Contains(tokens[0])
                || tokens[0] is "tempo"
                || (tokens is ["a" or "in", "tempo", ..])
                || (tokens is ["più" or "piu" or "meno" or "poco" or "un" or "molto" or "sehr" or "etwas" or "very" or "très" or "assez" or "nicht", var second, ..]
                    && (second is "mosso" || TempoWords.Contains(second))));
    }

    /// <summary>The jump or target that words are; null for other words.</summary>
    /// <returns>The kind, and whether a jump back leads to the coda.</returns>
    public static (JumpKind Kind, bool ToCoda)? Jump(string words)
    {
        if (words.Length > LongestJump)
        {
            return null;
        }

        var tokens = Tokens(words);
        if (tokens.Count == 0)
        {
            return null;
        }

        var (kind, used) = tokens switch
        {
            ["d", "c", ..] or ["da", "capo", ..] => (JumpKind.DaCapo, 2),
            ["dc", ..] or ["dacapo", ..] => (JumpKind.DaCapo, 1),
            ["d", "s", ..] or ["dal", "segno", ..] or ["dal", "al", ..] => (JumpKind.DalSegno, tokens[1] == "al" ? 1 : 2),
            ["ds", ..] => (JumpKind.DalSegno, 1),
            ["fine"] => (JumpKind.Fine, 1),
            ["to", "coda"] or ["al", "coda"] or ["alla", "coda"] => (JumpKind.ToCoda, 2),
            ["coda"] => (JumpKind.Coda, 1),
            ["segno"] => (JumpKind.Segno, 1),
            _ => ((JumpKind?)null, 0),
        };
        if (kind is null || (used < tokens.Count && !AfterJump.Contains(tokens[used])))
        {
            return null;
        }

        return (kind.Value, kind is JumpKind.DaCapo or JumpKind.DalSegno && tokens.Contains("coda"));
    }

    private static List<string> Tokens(string words)
    {
        var plain = words.Replace("\U0001D10B", " segno ", StringComparison.Ordinal).Replace("\U0001D10C", " coda ", StringComparison.Ordinal);
        return [.. plain.ToLowerInvariant().Split(
            [' ', '\t', '\r', '\n', '\u00A0', '.', ',', ':', ';', '(', ')', '!', '"', '\''], StringSplitOptions.RemoveEmptyEntries)];
    }
}
