using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>A note or rest of a tune line with all its notation: one word of the text.</summary>
/// <param name="Length">Its length, tuplets included.</param>
/// <param name="Pitch">Its pitch; null for a rest.</param>
internal sealed record TuneElement(Span Length, Pitch? Pitch)
{
    /// <summary>The tuplets around it, outermost first: notes played, in the time of how many, and whether it is the first note.</summary>
    public ValueList<(int Many, int Of, bool Begins)> Tuplets { get; init; } = [];

    /// <summary>Grace notes before it.</summary>
    public ValueList<Pitch> Graces { get; init; } = [];

    /// <summary>True when it is tied to the next.</summary>
    public bool Tied { get; init; }

    /// <summary>Its marks: those at its place, then its own.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>How far it lays back after its place.</summary>
    public Span Late { get; init; }

    /// <summary>True for a rest that fills its bar alone, of any length.</summary>
    public bool IsWholeBar { get; init; }

    /// <summary>The factor by which its tuplets shorten its written length.</summary>
    public Rational Factor => Tuplets.Aggregate(Rational.One, (product, tuplet) => product * new Rational(tuplet.Of, tuplet.Many));

    /// <summary>Its length as written.</summary>
    public Span Written => Length / Factor;

    /// <summary>True when another one has the same length and tuplets, whatever its pitch.</summary>
    public bool LastsAs(TuneElement other) => Length == other.Length && Pitch is null == other.Pitch is null && Tuplets.Equals(other.Tuplets);

    /// <summary>The content of a bar or pickup; an empty bar is a rest.</summary>
    /// <param name="measure">Its written music.</param>
    /// <param name="length">The bar's length; null for the pickup.</param>
    /// <param name="section">The section's name, for messages.</param>
    /// <exception cref="ChartProblemException">Something that a chart cannot express: two voices in one, a chord, an unpitched note, a
    /// microtone, a grace note after its note.</exception>
    public static IReadOnlyList<TuneElement> Of(PartMeasure measure, Span? length, string section)
    {
        if (measure.Voices.Count > 1)
        {
            throw Unwritable("two voices in one line; write the second as a separate line", section);
        }

        var elements = new List<TuneElement>();
        var events = measure.Voices.Count == 0 ? [] : measure.Voices[0].Events;
        var placed = new Queue<PlacedMark>(measure.Marks.OrderBy(mark => mark.At));
        var graces = new List<Pitch>();
        var open = new List<Tuplet>();
        var at = Span.Zero;
        for (var i = 0; i < events.Count; i++)
        {
            var one = events[i];
            if (one is NotesEvent { Grace: { } grace } before)
            {
                graces.Add(grace.IsAfter ? throw Unwritable("a grace note after its note", section) : PitchOf(before, section));
                continue;
            }

            // Only the pickup of a line that starts later than the others has a gap.
            if (one is GapEvent && i == 0 && length is null)
            {
                at += one.Length;
                continue;
            }

            var marks = new List<Mark>();
            while (placed.Count > 0 && (placed.Peek().At <= at || i == events.Count - 1))
            {
                marks.Add(placed.Dequeue().Mark);
            }

            var kept = 0;
            while (kept < Math.Min(open.Count, one.Tuplets.Count) && open[kept].Id == one.Tuplets[kept].Id)
            {
                kept++;
            }

            open = [.. one.Tuplets];
            elements.Add(new TuneElement(one.Length, one is NotesEvent notes ? PitchOf(notes, section) : null)
            {
                Tuplets = [.. one.Tuplets.Select((tuplet, depth) => (tuplet.Actual, tuplet.Normal, depth >= kept))],
                Graces = [.. graces],
                Tied = one is NotesEvent { Notes: [{ TiedTo: not null }] },
                Marks = [.. marks, .. one.Marks],
                Late = one is NotesEvent { Late: var late } ? late : Span.Zero,
                IsWholeBar = one is RestEvent { IsWholeMeasure: true } && events.Count == 1 && length is not null,
            });
            graces.Clear();
            at += one.Length;
        }

        return elements.Count == 0 && length is { } bar ? [new TuneElement(bar, null) { IsWholeBar = true }] : elements;
    }

    /// <summary>True when two bars have the same content.</summary>
    public static bool SayTheSame(IReadOnlyList<TuneElement> a, IReadOnlyList<TuneElement> b) => a.SequenceEqual(b);

    private static Pitch PitchOf(NotesEvent notes, string section) =>
        notes.Notes is not [var head] ? throw Unwritable("a chord in a tune", section)
        : head.Pitch?.Plain ?? throw Unwritable(head.Pitch is null ? "a note without pitch" : "a microtone", section);

    /// <summary>The exception for something that a chart cannot express.</summary>
    public static ChartProblemException Unwritable(string what, string section) => new($"a chart cannot express this: {what}", section, null);
}

/// <summary>A line of a tune, bar by bar, as written in a chart.</summary>
/// <param name="Pickup">The notes before the first bar line; empty without a pickup.</param>
/// <param name="Bars">The notes of each bar.</param>
internal sealed record TuneBars(IReadOnlyList<TuneElement> Pickup, IReadOnlyList<IReadOnlyList<TuneElement>> Bars)
{
    /// <summary>The bars of a line of a tune. Of a phrase, glide or hairpin without one of its ends, the other is left out.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">The line: 0 is the melody.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for messages.</param>
    /// <exception cref="ChartProblemException">The line extends beyond its section, or has something that a chart cannot
    /// express.</exception>
    public static TuneBars Of(Tune tune, int line, IReadOnlyList<BarMeter> meters, string section)
    {
        var (pickup, measures) = Measures(tune, line, meters);
        return measures.Skip(meters.Count).Any(measure => measure.Voices.Any(voice => voice.Events.Any(one => one is NotesEvent)))
            ? throw new ChartProblemException("the tune exceeds its section; shorten it or give the section more bars", section, null)
            : new TuneBars(
                pickup is null ? [] : TuneElement.Of(pickup, null, section),
                [.. meters.Select((meter, i) => TuneElement.Of(i < measures.Count ? measures[i] : PartMeasure.Empty, meter.Length, section))]).WithoutHalfLines();
    }

    /// <summary>The bars of notes as read.</summary>
    public static TuneBars Of(TuneMeasures read, IReadOnlyList<BarMeter> meters) => new(
        TuneElement.Of(read.Pickup, null, string.Empty),
        [.. read.Bars.Zip(meters, (measure, meter) => TuneElement.Of(measure, meter.Length, string.Empty))]);

    /// <summary>True when two lines have the same content.</summary>
    public bool SaysThe(TuneBars other) =>
        TuneElement.SayTheSame(Pickup, other.Pickup) && Bars.Count == other.Bars.Count
        && Bars.Zip(other.Bars).All(pair => TuneElement.SayTheSame(pair.First, pair.Second));

    // A phrase, glide or hairpin that has lost one of its ends cannot be read: the other end is left out too.
    private TuneBars WithoutHalfLines()
    {
        var elements = Bars.Prepend(Pickup).SelectMany(bar => bar).ToList();
        var open = new Dictionary<string, (int Element, int Mark)>(StringComparer.Ordinal);
        var halves = new HashSet<(int Element, int Mark)>();
        for (var i = 0; i < elements.Count; i++)
        {
            for (var j = 0; j < elements[i].Marks.Count; j++)
            {
                var mark = elements[i].Marks[j];
                if (mark.Edge is not (MarkEdge.Start or MarkEdge.Stop) || TuneMarks.NameOf(mark)?[..^1] is not { } line)
                {
                    continue;
                }

                // A line that starts while the one before it is open: that one has lost its end.
                var wasOpen = open.Remove(line, out var start);
                if (mark.Edge == MarkEdge.Start)
                {
                    open.Add(line, (i, j));
                }

                if (wasOpen == (mark.Edge == MarkEdge.Start))
                {
                    halves.Add(wasOpen ? start : (i, j));
                }
            }
        }

        halves.UnionWith(open.Values);
        if (halves.Count == 0)
        {
            return this;
        }

        var first = 0;
        return new TuneBars(Kept(Pickup), [.. Bars.Select(Kept)]);

        IReadOnlyList<TuneElement> Kept(IReadOnlyList<TuneElement> bar)
        {
            var from = first;
            first += bar.Count;
            return [.. bar.Select((element, i) => element with { Marks = [.. element.Marks.Where((_, j) => !halves.Contains((from + i, j)))] })];
        }
    }

    // If the bars differ from those for which it was written, its notes are laid out in these.
    private static (PartMeasure? Pickup, IReadOnlyList<PartMeasure> Bars) Measures(Tune tune, int line, IReadOnlyList<BarMeter> meters)
    {
        var written = tune.Written;
        var lead = written.Measures.Count > 0 && written.Measures[0].IsUncounted ? 1 : 0;
        var lengths = meters.Select(meter => meter.Length).ToList();
        if (Enumerable.Range(lead, written.Measures.Count - lead).Zip(lengths).Any(pair => written.LengthOf(pair.First) != pair.Second))
        {
            var laid = TuneBuilder.Measures(tune.Voice(line)!.Notes, lengths);
            return (laid.Pickup.Voices.Count == 0 ? null : laid.Pickup, laid.Bars);
        }

        var measures = written.Parts[line].Measures;
        return (lead == 1 && measures[0].Voices.Count > 0 ? measures[0] : null, [.. measures.Skip(lead)]);
    }
}
