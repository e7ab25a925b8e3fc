using System.Collections.Frozen;
using System.Text;
using GrooveLab.Music.Band;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>MusicXML's terms for the model's enumerations, in both directions.</summary>
internal static class MusicXmlWords
{
    /// <summary>The feature of a grouping element that names the groups of units of a time signature: "2+2+3", or "none" for an undivided bar. Programs of
    /// others pass over it.</summary>
    public const string GroupsOfMeter = "metrical-groups";

    /// <summary>The feature of a grouping element that says that the last notes only ring in the measure.</summary>
    public const string RingingMeasure = "ringing-bar";

    /// <summary>The field of a listed part that names its role in the band: "tune". Programs of others pass over it.</summary>
    public const string RoleOfPart = "role";

    private static readonly (string Word, ClefSign Sign)[] Signs =
        [("G", ClefSign.G), ("F", ClefSign.F), ("C", ClefSign.C), ("percussion", ClefSign.Percussion)];

    private static readonly (string Word, NoteBase Base)[] Types =
    [
        ("1024th", NoteBase.N1024), ("512th", NoteBase.N512), ("256th", NoteBase.N256), ("128th", NoteBase.N128),
        ("64th", NoteBase.SixtyFourth), ("32nd", NoteBase.ThirtySecond), ("16th", NoteBase.Sixteenth), ("eighth", NoteBase.Eighth),
        ("quarter", NoteBase.Quarter), ("half", NoteBase.Half), ("whole", NoteBase.Whole), ("breve", NoteBase.Breve),
        ("long", NoteBase.Long), ("maxima", NoteBase.Maxima),
    ];

    private static readonly FrozenDictionary<string, NoteBase> Bases =
        Types.ToFrozenDictionary(type => type.Word, type => type.Base, StringComparer.Ordinal);

    private static readonly FrozenDictionary<string, MarkKind> Kinds =
        Enum.GetValues<MarkKind>().ToFrozenDictionary(Hyphened, StringComparer.Ordinal);

    private static readonly string[] Names = [.. Enum.GetValues<MarkKind>().Select(Hyphened)];

    private static readonly string[] TypesByBase = [.. Types.Select(type => type.Word)];

    /// <summary>The base of a note type; null for an unknown word.</summary>
    public static NoteBase? Base(string word) => Bases.TryGetValue(word.Trim(), out var known) ? known : null;

    public static string Type(NoteBase noteBase) => TypesByBase[noteBase - NoteBase.N1024];

    /// <summary>The sign of a clef; null for a word that the model has no sign for.</summary>
    public static ClefSign? Sign(string word)
    {
        var found = Array.FindIndex(Signs, sign => sign.Word == word.Trim());
        return found < 0 ? null : Signs[found].Sign;
    }

    public static string Sign(ClefSign sign) => Array.Find(Signs, known => known.Sign == sign).Word;

    /// <summary>The kind of a mark; null for an unknown name.</summary>
    public static MarkKind? Kind(string name) => Kinds.TryGetValue(name, out var kind) ? kind : null;

    public static string Name(MarkKind kind) => Names[(int)kind];

    private static string Hyphened(MarkKind kind)
    {
        var text = new StringBuilder();
        foreach (var letter in kind.ToString())
        {
            if (char.IsUpper(letter) && text.Length > 0)
            {
                text.Append('-');
            }

            text.Append(char.ToLowerInvariant(letter));
        }

        return text.ToString();
    }
}
