using System.Globalization;
using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the notes of a line of a tune as text, bar by bar.</summary>
/// <param name="format">The format of the chart, which says how ties and rests are written.</param>
internal sealed class TuneText(int format)
{
    private readonly List<Tuplet> _open = [];
    private Span? _carried;

    /// <summary>The lowest format that can say all of a tune.</summary>
    public static int FormatOf(Tune tune) =>
        tune.Lines.Count > 0
        || tune.Written.Parts.SelectMany(part => part.Measures).Any(measure => measure.Marks.Count > 0 || measure.Voices.Any(voice => voice.Events.Any(IsNew)))
            ? ChartReader.Format
            : 1;

    /// <summary>Writes a line.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="line">Which line: 0 the melody.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="section">The section's name, for what is wrong.</param>
    /// <exception cref="ChartProblemException">
    /// The line goes on after its section, or holds what a chart cannot say: chords, notes without pitch, microtones, marks that have no name here.
    /// </exception>
    public (string Pickup, IReadOnlyList<string> Bars) Write(Tune tune, int line, IReadOnlyList<BarMeter> meters, string section)
    {
        var (pickup, measures) = Measures(tune, line, meters);
        if (measures.Skip(meters.Count).Any(measure => measure.Voices.Any(voice => voice.Events.Any(one => one is NotesEvent))))
        {
            throw new ChartProblemException("the tune goes on after its section; shorten it or give the section more bars", section, null);
        }

        var before = pickup is null ? string.Empty : Bar(pickup, meters[0], section, isBar: false);
        var bars = meters.Select((meter, i) => Bar(i < measures.Count ? measures[i] : PartMeasure.Empty, meter, section, isBar: true)).ToList();
        return (before, bars);
    }

    private static bool IsNew(VoiceEvent one) =>
        one.Marks.Count > 0 || one is NotesEvent { Late.Wholes.Sign: > 0 } || one.Lyrics.Any(lyric => lyric.Stress != Stress.Unknown || lyric.Late is not null);

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

    private string Bar(PartMeasure measure, BarMeter meter, string section, bool isBar)
    {
        if (measure.Voices.Count > 1)
        {
            throw Unwritable("two voices in one line; write the second as a line of its own", section);
        }

        var text = new StringBuilder();
        var events = measure.Voices.Count == 0 ? [] : measure.Voices[0].Events;
        var placed = new Queue<PlacedMark>(measure.Marks.OrderBy(mark => mark.At));
        var graces = new List<Pitch>();
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
            if (one is GapEvent && i == 0 && !isBar)
            {
                at += one.Length;
                continue;
            }

            Fit(text, one.Tuplets);
            Blank(text);
            while (placed.Count > 0 && (placed.Peek().At <= at || i == events.Count - 1))
            {
                Sign(text, placed.Dequeue().Mark, section);
            }

            foreach (var mark in one.Marks)
            {
                Sign(text, mark, section);
            }

            Add(text, one, graces, meter, section, isAlone: isBar && events.Count == 1);
            graces.Clear();
            at += one.Length;
        }

        Fit(text, []);
        if (text.Length == 0 && isBar)
        {
            text.Append(Rest);
        }

        return text.ToString();
    }

    private char Rest => format == 1 ? 'r' : 'z';

    private char Tie => format == 1 ? '~' : '-';

    private void Add(StringBuilder text, VoiceEvent one, List<Pitch> graces, BarMeter meter, string section, bool isAlone)
    {
        if (one is RestEvent { IsWholeMeasure: true } && isAlone && _open.Count == 0)
        {
            text.Append(Rest);
            return;
        }

        var ratio = _open.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio);
        var length = one.Length / ratio;
        if (one is NotesEvent notes)
        {
            if (notes.Late > Span.Zero)
            {
                text.Append('!').Append(TuneMarks.Late).Append(Length(notes.Late, meter)).Append('!');
            }

            text.Append(graces.Count > 0 ? $"({string.Join(' ', graces)})" : string.Empty).Append(PitchOf(notes, section));
        }
        else
        {
            text.Append(Rest);
        }

        // A rest alone in its bar would be read as the whole bar's.
        if (_carried != length || one is not NotesEvent)
        {
            text.Append(':').Append(Length(length, meter));
            _carried = length;
        }

        if (one is NotesEvent { Notes: [{ TiedTo: not null }] })
        {
            text.Append(Tie);
        }
    }

    private static string Length(Span length, BarMeter meter)
    {
        var units = length / meter.Unit;

        // A slash says that it is a fraction of a whole note.
        return units.IsInteger ? units.ToString()
            : length.Wholes.IsInteger ? string.Create(CultureInfo.InvariantCulture, $"{length.Wholes.Numerator}/1")
            : length.ToString();
    }

    private static Pitch PitchOf(NotesEvent notes, string section) =>
        notes.Notes is not [var head] ? throw Unwritable("a chord in a tune", section)
        : head.Pitch?.Plain ?? throw Unwritable(head.Pitch is null ? "a note without pitch" : "a microtone", section);

    private static void Sign(StringBuilder text, Mark mark, string section) =>
        text.Append('!').Append(TuneMarks.NameOf(mark) ?? throw Unwritable($"the mark {mark.Kind} {mark.Text}".TrimEnd(), section)).Append('!');

    private static ChartProblemException Unwritable(string what, string section) =>
        new($"a chart has no way to write this: {what}", section, null);

    // Closes the tuplets that end and opens those that begin.
    private void Fit(StringBuilder text, ValueList<Tuplet> tuplets)
    {
        var kept = 0;
        while (kept < Math.Min(_open.Count, tuplets.Count) && _open[kept].Id == tuplets[kept].Id)
        {
            kept++;
        }

        text.Append('}', _open.Count - kept);
        _open.RemoveRange(kept, _open.Count - kept);
        foreach (var tuplet in tuplets.Skip(kept))
        {
            Blank(text);
            text.Append(CultureInfo.InvariantCulture, $"{{{tuplet.Actual}:{tuplet.Normal}");
            _open.Add(tuplet);
        }
    }

    private static void Blank(StringBuilder text)
    {
        if (text.Length > 0)
        {
            text.Append(' ');
        }
    }
}
