using System.Text;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.Tests.Notation;

/// <summary>MusicXML's terms for the model's enumerations, in both directions, for the tests' reader and writer.</summary>
internal static class MusicXmlWords
{
    private static readonly (string Word, NoteBase Base)[] Types =
    [
        ("1024th", NoteBase.N1024), ("512th", NoteBase.N512), ("256th", NoteBase.N256), ("128th", NoteBase.N128),
        ("64th", NoteBase.SixtyFourth), ("32nd", NoteBase.ThirtySecond), ("16th", NoteBase.Sixteenth), ("eighth", NoteBase.Eighth),
        ("quarter", NoteBase.Quarter), ("half", NoteBase.Half), ("whole", NoteBase.Whole), ("breve", NoteBase.Breve),
        ("long", NoteBase.Long), ("maxima", NoteBase.Maxima),
    ];

    private static readonly Dictionary<string, MarkKind> Kinds =
        Enum.GetValues<MarkKind>().ToDictionary(Name, StringComparer.Ordinal);

    public static NoteBase Base(string word) => Types.Single(type => type.Word == word).Base;

    public static string Type(NoteBase noteBase) => Types.Single(type => type.Base == noteBase).Word;

    public static MarkKind Kind(string name) => Kinds[name];

    public static string Name(MarkKind kind)
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
