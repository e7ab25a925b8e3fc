using System.Collections.Frozen;
using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.ToScore;

/// <summary>Chord symbols as a score writes them: root, kind, degrees and bass.</summary>
/// <remarks>Kinds are those of the type kind-value of MusicXML 4.0.</remarks>
internal static class WrittenChords
{
    private const int Fifth = 5;

    private static readonly FrozenDictionary<string, string> Kinds = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        [""] = "major",
        ["m"] = "minor",
        ["aug"] = "augmented",
        ["dim"] = "diminished",
        ["7"] = "dominant",
        ["maj7"] = "major-seventh",
        ["m7"] = "minor-seventh",
        ["dim7"] = "diminished-seventh",
        ["m7b5"] = "half-diminished",
        ["m(maj7)"] = "major-minor",
        ["6"] = "major-sixth",
        ["m6"] = "minor-sixth",
        ["9"] = "dominant-ninth",
        ["maj9"] = "major-ninth",
        ["m9"] = "minor-ninth",
        ["11"] = "dominant-11th",
        ["maj11"] = "major-11th",
        ["m11"] = "minor-11th",
        ["13"] = "dominant-13th",
        ["maj13"] = "major-13th",
        ["m13"] = "minor-13th",
        ["sus2"] = "suspended-second",
        ["sus4"] = "suspended-fourth",
        ["5"] = "power",
    }.ToFrozenDictionary(StringComparer.Ordinal);

    /// <summary>The written chord. What no kind and degrees say is of the kind "other" and printed as its text.</summary>
    public static WrittenChord Of(ChordSymbol symbol)
    {
        if (symbol.IsNoChord)
        {
            return new WrittenChord { Symbol = symbol, Kind = "none", KindText = "N.C." };
        }

        // The symbol is root, suffix and bass; the first and the last are known.
        var text = symbol.ToString();
        var root = symbol.Root.ToString();
        var slash = symbol.HasSlashBass ? "/" + symbol.Bass : string.Empty;
        var suffix = text[root.Length..^slash.Length];
        var (kind, degrees) = KindOf(suffix);
        return new WrittenChord
        {
            Symbol = symbol,
            Root = LetterOf(symbol.Root),
            Kind = kind,
            KindText = suffix.Length == 0 ? null : suffix,
            Degrees = degrees,
            Bass = symbol.HasSlashBass ? LetterOf(symbol.Bass) : null,
        };
    }

    // The longest kind at the start of the suffix whose rest is a list of degrees.
    private static (string Kind, ValueList<ChordDegreeChange> Degrees) KindOf(string suffix)
    {
        for (var length = suffix.Length; length >= 0; length--)
        {
            if (Kinds.TryGetValue(suffix[..length], out var kind) && DegreesOf(suffix[length..]) is { } degrees)
            {
                return (kind, degrees);
            }
        }

        return ("other", []);
    }

    // "b9", "(b5,#9)", "add9", "no3"; null for anything else.
    private static ValueList<ChordDegreeChange>? DegreesOf(string text)
    {
        if (text.Length == 0)
        {
            return [];
        }

        var changes = new List<ChordDegreeChange>();
        foreach (var one in (text is ['(', .., ')'] ? text[1..^1] : text).Split(','))
        {
            var (type, rest) = one.StartsWith("add", StringComparison.Ordinal) ? ("add", one[3..])
                : one.StartsWith("no", StringComparison.Ordinal) ? ("subtract", one[2..])
                : ("alter", one);
            var alter = rest.Length == 0 ? 0 : rest[0] switch { '#' => 1, 'b' => -1, _ => 0 };
            if (!int.TryParse(alter == 0 ? rest : rest[1..], NumberStyles.None, CultureInfo.InvariantCulture, out var degree) || (type == "alter" && alter == 0))
            {
                return null;
            }

            changes.Add(new ChordDegreeChange(degree, alter, type == "alter" && degree > Fifth ? "add" : type));
        }

        return ValueList.Create<ChordDegreeChange>([.. changes]);
    }

    private static ChordLetter LetterOf(PitchName name) => new(name.Letter, name.Accidental == 0 ? null : name.Accidental);
}
