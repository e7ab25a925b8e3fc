using System.Collections.Concurrent;
using System.Collections.Frozen;
using System.Globalization;
using System.Text;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>The chord symbol that a written chord means, and the kind and degrees that a symbol has. Kinds are those of the type kind-value of the MusicXML
/// 4.0 schema.</summary>
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

    /// <summary>The chord with root, kind, bass and degrees as a file needs them; one that has a kind stays as it is.</summary>
    /// <param name="chord">The chord.</param>
    /// <param name="toSounding">The interval from what the part writes to what sounds; null for none.</param>
    public static WrittenChord Written(WrittenChord chord, Interval? toSounding)
    {
        if (chord.Kind is not null)
        {
            return chord;
        }

        if (chord.Root is not null || chord.Numeral is not null || chord.Function is not null)
        {
            return chord with { Kind = "other" };
        }

        if (chord.Symbol is not { } symbol)
        {
            // Free text: a function is the only root that may be any text.
            return ChordSymbol.TryParse(chord.Text, out var parsed, out _)
                ? Written(chord with { Symbol = parsed }, null)
                : chord with { Function = chord.Text ?? "", Kind = "other", KindText = "" };
        }

        if (symbol.IsNoChord)
        {
            // The format wants a root even here; its empty text hides it.
            return chord with { Root = new ChordLetter(NoteLetter.C, null) { Text = "" }, Kind = "none", KindText = "N.C." };
        }

        symbol = toSounding is { } interval ? symbol.Transpose(new Interval(-interval.Steps, -interval.Semitones)) : symbol;
        var root = symbol.Root.ToString();
        var suffix = SuffixOf(symbol.Text, root, symbol.HasSlashBass) ?? SuffixOf(symbol.ToString(), root, symbol.HasSlashBass)!;
        var plain = KindsBySuffix.GetOrAdd(suffix, Found);
        return chord with
        {
            Root = LetterOf(symbol.Root),
            Kind = plain.Kind,
            KindText = suffix.Length == 0 ? null : suffix,
            Degrees = plain.Degrees,
            Bass = symbol.HasSlashBass ? LetterOf(symbol.Bass) : null,
        };
    }

    private static readonly ConcurrentDictionary<string, (string Kind, ValueList<ChordDegreeChange> Degrees)> KindsBySuffix = new(StringComparer.Ordinal);

    private static ChordLetter LetterOf(PitchName name) => new(name.Letter, name.Accidental == 0 ? null : (Rational)name.Accidental);

    // What follows the root, as far as the reader's chord on the same root means the same.
    private static string? SuffixOf(string text, string root, bool hasBass)
    {
        var end = hasBass ? text.LastIndexOf('/') : text.Length;
        return text.StartsWith(root, StringComparison.Ordinal) && end >= root.Length ? text[root.Length..end] : null;
    }

    // The kind with the fewest changed degrees from which the reader makes the same chord again.
    private static (string Kind, ValueList<ChordDegreeChange> Degrees) Found(string suffix)
    {
        var symbol = ChordSymbol.Parse("C" + Changes(suffix));
        var root = new ChordLetter(NoteLetter.C, null);
        (string Kind, ValueList<ChordDegreeChange> Degrees)? best = null;
        foreach (var (kind, plain) in Suffixes.OrderBy(pair => pair.Key, StringComparer.Ordinal))
        {
            var degrees = DegreesBetween(ChordSymbol.Parse("C" + plain), symbol);
            if ((best is null || degrees.Count < best.Value.Degrees.Count)
                && SymbolOf(new WrittenChord { Root = root, Kind = kind, Degrees = degrees }) is { } read
                && read.Equals(symbol))
            {
                best = (kind, degrees);
            }
        }

        return best ?? ("other", []);
    }

    // Source: MusicXML 4.0, element degree-alter: of an altered degree relative to the kind's, of an added one relative to a dominant chord.
    private static ValueList<ChordDegreeChange> DegreesBetween(ChordSymbol kind, ChordSymbol wanted)
    {
        var changes = new List<ChordDegreeChange>();
        foreach (var degree in kind.Tones.Concat(wanted.Tones).Select(tone => (int)tone.Degree).Distinct().Order())
        {
            var has = kind.Tones.Where(tone => (int)tone.Degree == degree).Select(tone => tone.Alteration).ToList();
            var wants = wanted.Tones.Where(tone => (int)tone.Degree == degree).Select(tone => tone.Alteration).ToList();
            if (has.Count == 1 && wants.Count == 1 && has[0] != wants[0])
            {
                changes.Add(new ChordDegreeChange(degree, wants[0] - has[0], "alter"));
                continue;
            }

            if (has.Except(wants).Any())
            {
                changes.Add(new ChordDegreeChange(degree, 0, "subtract"));
                has.Clear();
            }

            var usual = degree == 7 ? -1 : 0;
            changes.AddRange(wants.Except(has).Select(alteration => new ChordDegreeChange(degree, alteration - usual, "add")));
        }

        return [.. changes];
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
