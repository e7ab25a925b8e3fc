using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>Gives the notes of a tune other places and lengths.</summary>
internal static class TuneRhythm
{
    private const int Three = 3;

    /// <summary>The tune with another rhythm of its melody: pitches, words, grace notes, marks and dynamics stay with their notes, further lines
    /// stay as they are. Notes are tied over bar lines; thirds of a unit become triplets, over one unit
    /// or two. A note that would lay back until its end or longer lays back half its length.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="rhythm">Onset and length of each note, ascending, no overlaps, not after the last bar.</param>
    /// <param name="bars">The bars of the section.</param>
    public static Tune InRhythm(this Tune tune, IReadOnlyList<(Span Onset, Span Length)> rhythm, IReadOnlyList<ChartBar> bars)
    {
        var notes = tune.Notes.Select((note, i) => note with
        {
            Onset = rhythm[i].Onset,
            Length = rhythm[i].Length,
            Late = note.Late < rhythm[i].Length ? note.Late : rhythm[i].Length / 2,
        }).ToList();
        var builder = new TuneBuilder([.. bars.Select(bar => bar.Meter.Length)]);
        builder.Add(tune.Melody.Name, WithDynamics(Measures(notes, bars), tune.Melody, notes, bars), tune.Verses);
        var hasPickup = tune.Written.Measures.Count > 0 && tune.Written.Measures[0].IsUncounted;
        for (var line = 0; line < tune.Lines.Count; line++)
        {
            var measures = tune.Written.Parts[line + 1].Measures;
            builder.Add(
                tune.Lines[line].Name,
                new TuneMeasures(hasPickup ? Shortened(measures[0]) : PartMeasure.Empty, [.. measures.Skip(hasPickup ? 1 : 0).Select(Unsung)]),
                tune.Lines[line].Verses);
        }

        return builder.Made();
    }

    /// <summary>The tune with another rhythm of every line, in other bars; see the other overload.</summary>
    /// <param name="tune">The tune.</param>
    /// <param name="rhythms">For each line, the melody first, onset and length of each note, ascending, no overlaps.</param>
    /// <param name="bars">The bars.</param>
    public static Tune InRhythms(this Tune tune, IReadOnlyList<IReadOnlyList<(Span Onset, Span Length)>> rhythms, IReadOnlyList<ChartBar> bars)
    {
        var builder = new TuneBuilder([.. bars.Select(bar => bar.Meter.Length)]);
        for (var line = 0; tune.Voice(line) is { } voice; line++)
        {
            var rhythm = rhythms[line];
            var notes = voice.Notes.Select((note, i) => note with { Onset = rhythm[i].Onset, Length = rhythm[i].Length }).ToList();
            builder.Add(voice.Name, notes.Count == 0 ? new TuneMeasures(PartMeasure.Empty, []) : WithDynamics(Measures(notes, bars), voice, notes, bars), voice.Verses);
        }

        return builder.Made();
    }

    // A pickup shorter than that of another line has a gap before it, which the builder adds.
    private static PartMeasure Shortened(PartMeasure measure)
    {
        var gap = measure.Voices.Count > 0 && measure.Voices[0].Events is [GapEvent first, ..] ? first.Length : Span.Zero;
        return gap == Span.Zero ? Unsung(measure) : Unsung(measure with
        {
            Voices = [measure.Voices[0] with { Events = [.. measure.Voices[0].Events.Skip(1)] }],
            Marks = [.. measure.Marks.Select(mark => mark with { At = mark.At - gap })],
        });
    }

    // The builder adds the words.
    private static PartMeasure Unsung(PartMeasure measure) => measure with
    {
        Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.Select(one => one.Lyrics.Count == 0 ? one : one with { Lyrics = [] })] })],
    };

    private static TuneMeasures Measures(List<TuneNote> notes, IReadOnlyList<ChartBar> bars)
    {
        var tuplets = 0;
        var first = bars[0].Meter.Unit;
        var begins = Span.Min(notes[0].Onset, Span.Zero);
        var pickup = begins < Span.Zero ? Measure(notes, begins, Span.Zero, Span.Zero - bars[0].Meter.Length, first, isBar: false, ref tuplets) : PartMeasure.Empty;
        var made = new List<PartMeasure>();
        var at = Span.Zero;
        foreach (var bar in bars)
        {
            made.Add(Measure(notes, at, at + bar.Meter.Length, at, bar.Meter.Unit, isBar: true, ref tuplets));
            at += bar.Meter.Length;
        }

        return new TuneMeasures(pickup, made);
    }

    private static PartMeasure Measure(List<TuneNote> notes, Span from, Span to, Span origin, Span unit, bool isBar, ref int tuplets)
    {
        var inside = notes.FindAll(note => note.Onset < to && note.Onset + note.Length > from);
        if (inside.Count == 0 && isBar)
        {
            return new PartMeasure { Voices = [new VoiceMeasure("1", [new RestEvent(null, to - from) { IsWholeMeasure = true }])] };
        }

        var triplets = Triplets([.. inside.SelectMany(note => new[] { note.Onset, note.Onset + note.Length }).Where(edge => edge > from && edge < to).Select(edge => (edge - origin) / unit).Distinct()]);
        var events = new List<VoiceEvent>();
        var at = from;
        foreach (var note in inside)
        {
            Add(null, Span.Min(note.Onset, to), ref tuplets);
            Add(note, Span.Min(note.Onset + note.Length, to), ref tuplets);
        }

        Add(null, to, ref tuplets);
        return new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])] };

        void Add(TuneNote? note, Span until, ref int id)
        {
            while (at < until)
            {
                // Pieces end where a triplet begins or ends.
                var (now, inTriplet) = (at, false);
                var end = until;
                foreach (var (first, units) in triplets)
                {
                    var (begin, close) = (origin + (unit * first), origin + (unit * (first + units)));
                    if (begin > now && begin < end)
                    {
                        end = begin;
                    }
                    else if (begin <= now && now < close)
                    {
                        inTriplet = true;
                        id += begin == now || now == from ? 1 : 0;
                        end = Span.Min(end, close);
                    }
                }

                events.AddRange(Piece(note, now, end, inTriplet ? id : null));
                at = end;
            }
        }
    }

    // The first unit and the number of units of each triplet: those that notes begin or end in, at thirds of them; two together where that is at
    // two thirds of the first and a third of the second, as in a triplet over both.
    private static List<(long First, int Units)> Triplets(IReadOnlyList<Rational> edges)
    {
        var triplets = new List<(long First, int Units)>();
        var next = 0L;
        foreach (var edge in edges.Where(edge => edge.Denominator % Three == 0).Order())
        {
            var first = edge.Numerator / edge.Denominator;
            if (first >= next)
            {
                var inBoth = edges.Where(other => other > first && other < first + 2).ToList();
                var units = inBoth.Count == 2 && inBoth.Contains(new Rational((Three * first) + 2, Three)) && inBoth.Contains(new Rational((Three * first) + 4, Three)) ? 2 : 1;
                triplets.Add((first, units));
                next = first + units;
            }
        }

        return triplets;
    }

    private static IEnumerable<VoiceEvent> Piece(TuneNote? note, Span from, Span to, int? triplet)
    {
        var length = to - from;
        var value = triplet is { } id && NoteUnit.TryFrom(length * new Rational(Three, 2), out var unit) ? new WrittenValue(unit, new Tuplet(id, Three, 2))
            : WrittenValue.TryFrom(length, out var plain) ? plain : null;
        if (note is null)
        {
            yield return new RestEvent(value, value is null ? length : null);
            yield break;
        }

        var begins = note.Onset == from;
        foreach (var grace in begins ? note.Graces : [])
        {
            yield return TuneBuilder.Grace(grace);
        }

        var head = WrittenNote.Of(note.Pitch) with
        {
            TiedFrom = begins ? null : new TieEnd(),
            TiedTo = note.Onset + note.Length > to ? new TieEnd() : null,
        };
        yield return new NotesEvent([head], value, value is null ? length : null) with { Marks = begins ? note.Marks : [], Late = begins ? note.Late : Span.Zero };
    }

    // Each dynamic moves with the note at which or during which it stands; at the end of a note it stays at its end.
    private static TuneMeasures WithDynamics(TuneMeasures music, TuneVoice old, List<TuneNote> notes, IReadOnlyList<ChartBar> bars)
    {
        if (old.Dynamics.Count == 0)
        {
            return music;
        }

        var (pickup, made) = (music.Pickup, music.Bars.ToList());
        foreach (var dynamic in old.Dynamics)
        {
            var at = Math.Max(0, old.Notes.Count(note => note.Onset <= dynamic.Onset) - 1);
            var place = dynamic.Onset >= old.Notes[at].Onset + old.Notes[at].Length ? notes[at].Onset + notes[at].Length : notes[at].Onset;
            if (place < Span.Zero)
            {
                pickup = pickup with { Marks = [.. pickup.Marks, new PlacedMark(place - notes[0].Onset, dynamic.Mark)] };
                continue;
            }

            var bar = 0;
            while (bar + 1 < bars.Count && place >= bars[bar].Meter.Length)
            {
                place -= bars[bar++].Meter.Length;
            }

            made[bar] = made[bar] with { Marks = [.. made[bar].Marks, new PlacedMark(place, dynamic.Mark)] };
        }

        return new TuneMeasures(pickup, made);
    }
}
