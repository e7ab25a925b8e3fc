using System.Collections.Frozen;
using System.Globalization;
using System.Text;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>The chord symbol that a written chord means. Kinds are those of the type kind-value of the MusicXML 4.0 schema.</summary>
internal static class ChordKinds
{
    private static readonly FrozenDictionary<string, string> Suffixes = new Dictionary<string, string>(StringComparer.Ordinal)
    {
        ["major"] = "",
        ["minor"] = "m",
        ["augmented"] = "aug",
        ["diminished"] = "dim",
        ["dominant"] = "7",
        ["major-seventh"] = "maj7",
        ["minor-seventh"] = "m7",
        ["diminished-seventh"] = "dim7",
        ["augmented-seventh"] = "aug7",
        ["half-diminished"] = "m7b5",
        ["major-minor"] = "m(maj7)",
        ["major-sixth"] = "6",
        ["minor-sixth"] = "m6",
        ["dominant-ninth"] = "9",
        ["major-ninth"] = "maj9",
        ["minor-ninth"] = "m9",
        ["dominant-11th"] = "11",
        ["major-11th"] = "maj11",
        ["minor-11th"] = "m11",
        ["dominant-13th"] = "13",
        ["major-13th"] = "maj13",
        ["minor-13th"] = "m13",
        ["suspended-second"] = "sus2",
        ["suspended-fourth"] = "sus4",
        ["power"] = "5",
    }.ToFrozenDictionary(StringComparer.Ordinal);

    /// <summary>The symbol; null if the chord has no root, an unusual kind or degrees that no symbol has.</summary>
    public static ChordSymbol? SymbolOf(WrittenChord chord)
    {
        var kind = chord.Kind?.Trim() ?? "major";
        if (kind == "none")
        {
            return ChordSymbol.NoChord;
        }

        if (chord.Root is not { } root || NameOf(root) is not { } name)
        {
            return null;
        }

        var bass = chord.Bass is { } written ? NameOf(written) : null;
        if (chord.Bass is not null && bass is null)
        {
            return null;
        }

        var slash = bass is null || bass == name ? "" : "/" + bass;
        if (Suffixes.TryGetValue(kind, out var suffix)
            && WithDegrees(suffix, chord.Degrees) is { } whole
            && ChordSymbol.TryParse(name + whole + slash, out var symbol, out _))
        {
            return symbol;
        }

        // A kind of its own ("other"), or degrees that its printed text says better.
        return chord.KindText is { } text && ChordSymbol.TryParse(name + Changes(text.Trim()) + slash, out var printed, out _) ? printed : null;
    }

    // An accidental directly after the letter would belong to the root: C with "b5" is C(b5), not the power chord on C flat.
    private static string Changes(string text) =>
        text is ['#' or 'b' or 'x' or '♯' or '♭', ..] || text.StartsWith('\uD834') ? $"({text})" : text;

    private static string? NameOf(ChordLetter letter)
    {
        var alter = letter.Alter?.IsInteger == false ? 9 : (int)(letter.Alter?.Numerator ?? 0);
        return Math.Abs(alter) <= 2 ? new PitchName(letter.Letter, alter).ToString() : null;
    }

    private static string? WithDegrees(string suffix, ValueList<ChordDegreeChange> degrees)
    {
        if (degrees.Count == 0)
        {
            return suffix;
        }

        var inside = new List<string>();
        foreach (var degree in degrees)
        {
            if (!degree.Alter.IsInteger || degree.Alter.Abs() > 1)
            {
                return null;
            }

            var sign = degree.Alter.Sign switch { > 0 => "#", < 0 => "b", _ => "" };
            var value = degree.Value.ToString(CultureInfo.InvariantCulture);
            var one = degree.Type switch
            {
                "add" => sign.Length == 0 ? "add" + value : sign + value,
                "alter" => sign.Length == 0 ? null : sign + value,
                "subtract" => "no" + value,
                _ => null,
            };
            if (one is null)
            {
                return null;
            }

            inside.Add(one);
        }

        return new StringBuilder(suffix).Append('(').AppendJoin(',', inside).Append(')').ToString();
    }
}
