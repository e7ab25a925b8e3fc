using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>A note or a rest of a line of a tune with all that is written for it: one word of the notes' text.</summary>
/// <param name="Length">How long it lasts, tuplets included.</param>
/// <param name="Pitch">Its pitch; null for a rest.</param>
internal sealed record TuneElement(Span Length, Pitch? Pitch)
{
    /// <summary>The tuplets it stands in, outermost first: so many in the time of so many, and whether it is the first in it.</summary>
    public ValueList<(int Many, int Of, bool Begins)> Tuplets { get; init; } = [];

    /// <summary>Grace notes before it.</summary>
    public ValueList<Pitch> Graces { get; init; } = [];

    /// <summary>True when it is tied to the next.</summary>
    public bool Tied { get; init; }

    /// <summary>Its marks: those that stand at its place, then its own.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>How far it comes after its place.</summary>
    public Span Late { get; init; }

    /// <summary>True for a rest that fills its bar alone, however long that is.</summary>
    public bool IsWholeBar { get; init; }

    /// <summary>By how much its tuplets shorten what is written.</summary>
    public Rational Factor => Tuplets.Aggregate(Rational.One, (product, tuplet) => product * new Rational(tuplet.Of, tuplet.Many));

    /// <summary>Its length as written.</summary>
    public Span Written => Length / Factor;

    /// <summary>Whether another one lasts as long in the same tuplets, whatever sounds.</summary>
    public bool LastsAs(TuneElement other) => Length == other.Length && Pitch is null == other.Pitch is null && Tuplets.Equals(other.Tuplets);

    /// <summary>What a bar holds, or the pickup; a bar without anything is a rest.</summary>
    /// <param name="measure">What is written in it.</param>
    /// <param name="length">The bar's length; null for the pickup.</param>
    /// <param name="section">The section's name, for what is wrong.</param>
    /// <exception cref="ChartProblemException">
    /// Something that a chart cannot say: two voices in one, a chord, a note without pitch, a microtone, a grace note after its note.
    /// </exception>
    public static IReadOnlyList<TuneElement> Of(PartMeasure measure, Span? length, string section)
    {
        if (measure.Voices.Count > 1)
        {
            throw Unwritable("two voices in one line; write the second as a line of its own", section);
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

            // Only the pickup of a line that begins later than the others has a gap.
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

    /// <summary>Whether two bars say the same.</summary>
    public static bool SayTheSame(IReadOnlyList<TuneElement> a, IReadOnlyList<TuneElement> b) => a.SequenceEqual(b);

    private static Pitch PitchOf(NotesEvent notes, string section) =>
        notes.Notes is not [var head] ? throw Unwritable("a chord in a tune", section)
        : head.Pitch?.Plain ?? throw Unwritable(head.Pitch is null ? "a note without pitch" : "a microtone", section);

    /// <summary>What a chart has no way to write.</summary>
    public static ChartProblemException Unwritable(string what, string section) => new($"a chart has no way to write this: {what}", section, null);
}

/// <summary>A line of a tune bar by bar, as it is written in a chart.</summary>
/// <param name="Pickup">What comes before the first bar line; empty without a pickup.</param>
/// <param name="Bars">What is in each bar.</param>
internal sealed record TuneBars(IReadOnlyList<TuneElement> Pickup, IReadOnlyList<IReadOnlyList<TuneElement>> Bars)
{
    /// <summary>The bars of a line of a tune.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">Which line: 0 the melody.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for what is wrong.</param>
    /// <exception cref="ChartProblemException">The line goes on after its section, or holds what a chart cannot say.</exception>
    public static TuneBars Of(Tune tune, int line, IReadOnlyList<BarMeter> meters, string section)
    {
        var (pickup, measures) = Measures(tune, line, meters);
        return measures.Skip(meters.Count).Any(measure => measure.Voices.Any(voice => voice.Events.Any(one => one is NotesEvent)))
            ? throw new ChartProblemException("the tune goes on after its section; shorten it or give the section more bars", section, null)
            : new TuneBars(
                pickup is null ? [] : TuneElement.Of(pickup, null, section),
                [.. meters.Select((meter, i) => TuneElement.Of(i < measures.Count ? measures[i] : PartMeasure.Empty, meter.Length, section))]);
    }

    /// <summary>The bars of notes that were read.</summary>
    public static TuneBars Of(TuneMeasures read, IReadOnlyList<BarMeter> meters) => new(
        TuneElement.Of(read.Pickup, null, string.Empty),
        [.. read.Bars.Zip(meters, (measure, meter) => TuneElement.Of(measure, meter.Length, string.Empty))]);

    /// <summary>Whether two lines say the same.</summary>
    public bool SaysThe(TuneBars other) =>
        TuneElement.SayTheSame(Pickup, other.Pickup) && Bars.Count == other.Bars.Count
        && Bars.Zip(other.Bars).All(pair => TuneElement.SayTheSame(pair.First, pair.Second));

    // Where the bars are other than those for which it was written, its notes are laid out in these.
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
