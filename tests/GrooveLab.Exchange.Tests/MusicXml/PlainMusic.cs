using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Written music without the places from which it was read, for comparing two readings.</summary>
internal static class PlainMusic
{
    public static WrittenMusic Of(WrittenMusic music) => new(
        [.. music.Measures.Select(Plain)],
        [.. music.Parts.Select(part => part with { Measures = [.. part.Measures.Select(Plain)] })])
    {
        // In the file they stand in an order of their own.
        Headings = [.. music.Headings.OrderBy(heading => heading.Kind, StringComparer.Ordinal)],
    };

    /// <summary>The first difference of two pieces of music, part by part and measure by measure; null if they are equal.</summary>
    public static string? Difference(WrittenMusic expected, WrittenMusic actual)
    {
        var (a, b) = (Of(expected), Of(actual));
        if (a.Equals(b))
        {
            return null;
        }

        for (var m = 0; m < Math.Min(a.Measures.Count, b.Measures.Count); m++)
        {
            if (!a.Measures[m].Equals(b.Measures[m]))
            {
                return Told($"measure {m + 1}", a.Measures[m], b.Measures[m])
                    + Lists(a.Measures[m].Marks, b.Measures[m].Marks);
            }

            for (var p = 0; p < Math.Min(a.Parts.Count, b.Parts.Count); p++)
            {
                var (one, other) = (a.Parts[p].Measures[m], b.Parts[p].Measures[m]);
                if (!one.Equals(other))
                {
                    var voices = string.Concat(one.Voices.Zip(other.Voices, (x, y) => x.Name == y.Name ? Lists(x.Events, y.Events) : $" voice {x.Name}, {y.Name}"));
                    return $"part {p + 1}, measure {m + 1}: {one.Voices.Count} and {other.Voices.Count} voices" + voices
                        + Lists(one.Marks, other.Marks) + Lists(one.Transpositions, other.Transpositions) + Lists(one.Clefs, other.Clefs);
                }
            }
        }

        return "measures, parts or headings: " + Lists(a.Headings, b.Headings) + string.Join(", ", a.Parts.Zip(b.Parts).Where(pair => !pair.First.Equals(pair.Second)));
    }

    private static string Lists<T>(ValueList<T> a, ValueList<T> b)
    {
        for (var i = 0; i < Math.Max(a.Count, b.Count); i++)
        {
            if (i >= a.Count || i >= b.Count || !EqualityComparer<T>.Default.Equals(a[i], b[i]))
            {
                return Told($" item {i}", i < a.Count ? a[i] : null, i < b.Count ? b[i] : null);
            }
        }

        return "";
    }

    // Around the first difference.
    private static string Told(string what, object? a, object? b)
    {
        var (one, other) = ($"{a}", $"{b}");
        var at = Math.Max(0, one.Zip(other).TakeWhile(pair => pair.First == pair.Second).Count() - 60);
        return $"{what}\nexpected ...{Cut(one, at)}\nactual   ...{Cut(other, at)}\n";
    }

    private static string Cut(string text, int from) => text[Math.Min(from, text.Length)..Math.Min(from + 240, text.Length)];

    // At one place, a key and a meter stand before other marks.
    private static Measure Plain(Measure measure) => measure with
    {
        Origin = null,
        Marks =
        [
            .. measure.Marks.OrderBy(mark => mark.At).ThenBy(mark => mark switch { KeyMark => 0, MeterMark => 1, _ => 2 }).Select(mark => mark with { Origin = null }),
        ],
    };

    private static PartMeasure Plain(PartMeasure measure) => measure with
    {
        Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.Select(Plain)] })],
        Marks = [.. measure.Marks.OrderBy(mark => mark.At)],
    };

    // A chord's first head has index 0 or none; the file has the marks of each head together, its shape first.
    private static VoiceEvent Plain(VoiceEvent one) => (one is NotesEvent notes ? notes.WithNotes([.. notes.Notes.Select(head => head with { Origin = null })]) : one)
        with
    {
        Origin = null,
        Marks =
        [
            .. one.Marks.Select(mark => mark.Head == 0 ? mark with { Head = null } : mark)
                .OrderBy(mark => mark.Head ?? 0).ThenBy(mark => mark.Kind is MarkKind.Notehead or MarkKind.NoteheadText ? 0 : 1),
        ],
    };
}
