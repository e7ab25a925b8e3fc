using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// The marks that stand before the notes of a tune between exclamation marks, such as !accent!. The names are those of the open ABC 2.1
/// standard where it has them, else MusicXML's.
/// </summary>
internal static class TuneMarks
{
    /// <summary>How a mark of lateness begins; a length follows.</summary>
    public const string Late = "late:";

    // A name is written as the first of its row; the others are read too.
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

    // Lines have a bracket behind their name: open where they begin, closed where they end.
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

    /// <summary>Every name that is read, brackets included.</summary>
    public static IEnumerable<string> Names => Singles.SelectMany(single => single.Names)
        .Concat(Lines.SelectMany(line => line.Names).SelectMany(name => new[] { name + "(", name + ")" }))
        .Concat(Levels)
        .Concat(Fingers);

    /// <summary>True for a mark that stands at a place of the part and not on a note: dynamics and hairpins.</summary>
    public static bool IsPlaced(MarkKind kind) => kind is MarkKind.Dynamics or MarkKind.Wedge;

    /// <summary>True for a mark that a rest can carry.</summary>
    public static bool SuitsARest(Mark mark) => IsPlaced(mark.Kind) || mark.Kind is MarkKind.Fermata;

    /// <summary>The mark of a name, written without its exclamation marks; null when there is none.</summary>
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

    /// <summary>The name of a mark; null when a chart has none for it.</summary>
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
