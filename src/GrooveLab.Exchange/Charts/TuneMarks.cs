using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Charts;

/// <summary>The marks before the notes of a tune, between exclamation marks, such as !accent!. The names are those of the open ABC 2.1
/// standard if it has them, otherwise those of MusicXML.</summary>
internal static class TuneMarks
{
    /// <summary>The prefix of a laying-back mark; a length follows.</summary>
    public const string Late = "late:";

    // The first name of each row is written; the others are accepted when reading.
    private static readonly (MarkKind Kind, string[] Names)[] Singles =
    [
        (MarkKind.Accent, ["accent", ">", "emphasis"]),
        (MarkKind.StrongAccent, ["marcato", "^", "strong-accent"]),
        (MarkKind.SoftAccent, ["soft-accent"]),
        (MarkKind.Staccato, ["staccato", "."]),
        (MarkKind.Staccatissimo, ["wedge", "staccatissimo"]),
        (MarkKind.Spiccato, ["spiccato"]),
        (MarkKind.Tenuto, ["tenuto"]),
        (MarkKind.DetachedLegato, ["detached-legato"]),
        (MarkKind.Stress, ["stress"]),
        (MarkKind.Unstress, ["unstress"]),
        (MarkKind.BreathMark, ["breath"]),
        (MarkKind.Caesura, ["caesura"]),
        (MarkKind.Fermata, ["fermata"]),
        (MarkKind.Scoop, ["scoop", "slide"]),
        (MarkKind.Plop, ["plop"]),
        (MarkKind.Doit, ["doit"]),
        (MarkKind.Falloff, ["falloff"]),
        (MarkKind.TrillMark, ["trill"]),
        (MarkKind.Turn, ["turn"]),
        (MarkKind.InvertedTurn, ["invertedturn"]),
        (MarkKind.Mordent, ["mordent", "lowermordent"]),
        (MarkKind.InvertedMordent, ["uppermordent", "pralltriller"]),
        (MarkKind.Shake, ["shake"]),
        (MarkKind.Schleifer, ["schleifer"]),
        (MarkKind.Arpeggiate, ["arpeggio"]),
        (MarkKind.UpBow, ["upbow"]),
        (MarkKind.DownBow, ["downbow"]),
        (MarkKind.OpenString, ["open"]),
        (MarkKind.ThumbPosition, ["thumb"]),
        (MarkKind.SnapPizzicato, ["snap"]),
        (MarkKind.DoubleTongue, ["double-tongue"]),
        (MarkKind.TripleTongue, ["triple-tongue"]),
    ];

    // Lines have a bracket after their name: open at the start, closed at the end.
    private static readonly (MarkKind Kind, string? Text, string[] Names)[] Lines =
    [
        (MarkKind.Slur, null, ["phrase"]),
        (MarkKind.Slide, null, ["slide"]),
        (MarkKind.Glissando, null, ["glissando"]),
        (MarkKind.Wedge, "crescendo", ["crescendo", "<"]),
        (MarkKind.Wedge, "diminuendo", ["diminuendo", ">"]),
    ];

    private static readonly string[] Levels =
    [
        "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "sf", "sfz", "sffz", "fz", "fp", "sfp", "rf", "rfz", "n",
    ];

    private static readonly string[] Fingers = ["0", "1", "2", "3", "4", "5"];

    /// <summary>All accepted names, including brackets.</summary>
    public static IEnumerable<string> Names => Singles.SelectMany(single => single.Names)
        .Concat(Lines.SelectMany(line => line.Names).SelectMany(name => new[] { name + "(", name + ")" }))
        .Concat(Levels)
        .Concat(Fingers);

    /// <summary>True for a mark at a place of the part, not on a note: dynamics and hairpins.</summary>
    public static bool IsPlaced(MarkKind kind) => kind is MarkKind.Dynamics or MarkKind.Wedge;

    /// <summary>True for a mark that a rest can carry.</summary>
    public static bool SuitsARest(Mark mark) => IsPlaced(mark.Kind) || mark.Kind is MarkKind.Fermata;

    /// <summary>The mark with a name, given without exclamation marks; null for none.</summary>
    public static Mark? Read(string name)
    {
        foreach (var (kind, names) in Singles)
        {
            if (names.Contains(name, StringComparer.Ordinal))
            {
                return new Mark(kind);
            }
        }

        if (name.Length > 1 && name[^1] is '(' or ')')
        {
            foreach (var (kind, text, names) in Lines)
            {
                if (names.Contains(name[..^1], StringComparer.Ordinal))
                {
                    var begins = name[^1] == '(';
                    return new Mark(kind) { Edge = begins ? MarkEdge.Start : MarkEdge.Stop, Text = text };
                }
            }
        }

        return Levels.Contains(name, StringComparer.Ordinal) ? new Mark(MarkKind.Dynamics) { Text = name }
            : Fingers.Contains(name, StringComparer.Ordinal) ? new Mark(MarkKind.Fingering) { Text = name }
            : null;
    }

    /// <summary>The name of a mark; null if it has none in a chart.</summary>
    public static string? NameOf(Mark mark)
    {
        var name = mark.Kind switch
        {
            MarkKind.Dynamics or MarkKind.Fingering => mark.Text,
            var kind when mark.Edge is MarkEdge.Start or MarkEdge.Stop =>
                Lines.FirstOrDefault(line => line.Kind == kind && line.Text == mark.Text).Names?[0] + (mark.Edge == MarkEdge.Start ? "(" : ")"),
            var kind => Singles.FirstOrDefault(single => single.Kind == kind).Names?[0],
        };
        return name is not null && Read(name) is { } read && read == mark ? name : null;
    }
}
