using System.Globalization;
using System.Text;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>The style of notes in a tune.</summary>
/// <param name="Rest">The sign of a rest.</param>
/// <param name="Tie">The sign of a tie.</param>
internal sealed record NoteStyle(char Rest, char Tie)
{
    /// <summary>Lengths in the meter's units if possible; otherwise as fractions of a whole note.</summary>
    public bool InUnits { get; init; } = true;

    /// <summary>The same inside tuplets.</summary>
    public bool TupletsInUnits { get; init; } = true;

    /// <summary>Omits a length if the note before has the same.</summary>
    public bool Carries { get; init; } = true;

    /// <summary>Half units as 1.5, not as a fraction.</summary>
    public bool Decimals { get; init; }

    /// <summary>Dotted values with a dot, 1/4., not as 3/8.</summary>
    public bool Dots { get; init; }

    /// <summary>Writes the first length in a tuplet and the first after one even if unchanged.</summary>
    public bool SaysAtTuplets { get; init; }

    /// <summary>The default style, without an old text.</summary>
    public static NoteStyle Of(int format) => format == 1 ? new NoteStyle('r', '~') : new NoteStyle('z', '-');

    /// <summary>A length as text.</summary>
    public string Length(Span length, Span unit, bool inTuplet)
    {
        // A length that is neither plain nor dotted is better written in units.
        var whole = NoteLength.OfAWhole(length, Dots);
        var decimals = Decimals || (Dots && !whole.StartsWith("1/", StringComparison.Ordinal));
        return ((inTuplet ? TupletsInUnits : InUnits) ? NoteLength.InUnits(length, unit, decimals) : null) ?? whole;
    }
}

/// <summary>Writes the notes of bars in order; remembers the length that a note without a length gets.</summary>
/// <param name="style">The style of notes.</param>
/// <param name="section">The section's name, for messages.</param>
internal sealed class NoteWriter(NoteStyle style, string section)
{
    /// <summary>The style of notes.</summary>
    public NoteStyle Style => style;

    private bool _said;

    /// <summary>The length that a note without a length would get; null before the first note.</summary>
    public Span? Carried { get; private set; }

    /// <summary>True when a tuplet has just begun or ended.</summary>
    public bool IsAtTuplet { get; set; }

    /// <summary>Sets the length that a note without a length gets in a bar, and keeps it.</summary>
    public Span CarriedIn(BarMeter meter) => Carried ??= meter.Unit;

    /// <summary>Sets a length written in the text.</summary>
    public void Say(Span length) => (Carried, _said) = (length, true);

    /// <summary>Writes notes and rests of a bar.</summary>
    /// <param name="elements">The notes and rests; whole tuplets.</param>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="was">The old word of each, whose spelling is kept; null for none.</param>
    /// <exception cref="GrooveLab.Music.Charts.ChartProblemException">A mark has no name in a chart.</exception>
    public string Write(IReadOnlyList<TuneElement> elements, BarMeter meter, IReadOnlyList<TuneSpans.Word?>? was = null)
    {
        var text = new StringBuilder();
        var open = 0;
        for (var i = 0; i < elements.Count; i++)
        {
            var element = elements[i];
            var kept = element.Tuplets.TakeWhile(tuplet => !tuplet.Begins).Count();
            text.Append('}', open - kept);
            IsAtTuplet |= open > kept;
            foreach (var (many, of, _) in element.Tuplets.Skip(kept))
            {
                text.Append(text.Length > 0 ? " " : string.Empty).Append(CultureInfo.InvariantCulture, $"{{{many}:{of}");
                IsAtTuplet = true;
            }

            open = element.Tuplets.Count;
            text.Append(text.Length > 0 ? " " : string.Empty);
            Add(text, element, meter, was?[i]);
        }

        IsAtTuplet |= open > 0;
        return text.Append('}', open).ToString();
    }

    /// <summary>The text before a note's name: marks, laying back and grace notes.</summary>
    /// <param name="element">The note.</param>
    /// <param name="meter">The meter of its bar.</param>
    /// <param name="was">Its old word, whose names of marks are kept; null for none.</param>
    public string Prefix(TuneElement element, BarMeter meter, TuneSpans.Word? was)
    {
        var text = new StringBuilder();
        foreach (var mark in element.Marks)
        {
            var name = was?.Marks.FirstOrDefault(name => TuneMarks.Read(name) == mark) ?? TuneMarks.NameOf(mark);
            text.Append('!').Append(name ?? throw TuneElement.Unwritable($"the mark {mark.Kind} {mark.Text}".TrimEnd(), section)).Append('!');
        }

        if (element.Late > Span.Zero)
        {
            text.Append('!').Append(TuneMarks.Late).Append(style.Length(element.Late, meter.Unit, inTuplet: false)).Append('!');
        }

        var graces = element.Graces.Select((grace, i) => was is not null && i < was.GraceNames.Count ? InManner(was.GraceNames[i], grace) : grace.ToString());
        return text.Append(element.Graces.Count > 0 ? $"({string.Join(' ', graces)})" : string.Empty).ToString();
    }

    /// <summary>A pitch in the style of an old name: lower case, signs for sharps and flats.</summary>
    public static string InManner(string was, Pitch pitch)
    {
        var name = was.AsSpan().IndexOfAny('♯', '♭') >= 0
            ? pitch.Name.ToSigns() + pitch.ToString()[pitch.Name.ToString().Length..]
            : pitch.ToString();
        return char.IsAsciiLetterLower(was[0]) ? char.ToLowerInvariant(name[0]) + name[1..] : name;
    }

    private void Add(StringBuilder text, TuneElement element, BarMeter meter, TuneSpans.Word? was)
    {
        text.Append(Prefix(element, meter, was));
        var rest = was is { Pitch: null } ? was.Name : style.Rest.ToString();
        if (element.IsWholeBar)
        {
            text.Append(rest);
            CarriedIn(meter);
            return;
        }

        text.Append(element.Pitch is not { } pitch ? rest : was?.Pitch is null ? pitch.ToString() : InManner(was.Name, pitch));

        // A rest alone in its bar would be read as a whole-bar rest.
        var written = element.Written;
        if (!style.Carries || !_said || Carried != written || element.Pitch is null || (style.SaysAtTuplets && IsAtTuplet))
        {
            text.Append(':').Append(style.Length(written, meter.Unit, element.Tuplets.Count > 0));
            Say(written);
        }

        IsAtTuplet = false;
        text.Append(element.Tied ? (was?.Tie ?? style.Tie).ToString() : string.Empty);
    }
}
