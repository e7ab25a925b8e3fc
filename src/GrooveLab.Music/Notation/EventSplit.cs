using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>Splits events at a place inside them without changing the sound.</summary>
public static class EventSplit
{
    /// <summary>Splits an event into two consecutive groups of events. Notes are tied; words, single marks and the start of lines stay on
    /// the first piece; marks that belong to the end (breath, caesura, fermata, the end of a line) go to the last.</summary>
    /// <param name="whole">The event.</param>
    /// <param name="at">The place inside it, from its start.</param>
    /// <returns>Pieces with written values if their lengths have any (in the event's own tuplets), the longest first; otherwise one piece
    /// with its stated length.</returns>
    /// <exception cref="ArgumentOutOfRangeException">The place is not inside the event.</exception>
    public static (ValueList<VoiceEvent> First, ValueList<VoiceEvent> Second) At(VoiceEvent whole, Span at)
    {
        if (at <= Span.Zero || at >= whole.Length)
        {
            throw new ArgumentOutOfRangeException(nameof(at), "The place must be inside the event.");
        }

        var first = Values(at, whole);
        var second = Values(whole.Length - at, whole);
        var pieces = new List<VoiceEvent>();
        for (var i = 0; i < first.Count + second.Count; i++)
        {
            var (value, length) = i < first.Count ? first[i] : second[i - first.Count];
            pieces.Add(Piece(whole, value, length, i == 0, i == first.Count + second.Count - 1));
        }

        return ([.. pieces.Take(first.Count)], [.. pieces.Skip(first.Count)]);
    }

    private static bool BelongsToTheEnd(Mark mark) =>
        mark.Edge == MarkEdge.Stop || mark.Kind is MarkKind.BreathMark or MarkKind.Caesura or MarkKind.Fermata;

    private static List<(WrittenValue? Value, Span Length)> Values(Span length, VoiceEvent whole)
    {
        var tuplets = whole.Tuplets;
        var ratio = tuplets.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio);
        var plain = length / ratio;
        var values = new List<(WrittenValue?, Span)>();
        if (whole is GapEvent || !long.IsPow2(plain.Wholes.Denominator) || plain.Wholes.Denominator > 1024)
        {
            return [(null, length)];
        }

        while (plain > Span.Zero)
        {
            var unit = Largest(plain);
            values.Add((new WrittenValue(unit, tuplets.AsSpan()), unit.Length * ratio));
            plain -= unit.Length;
        }

        return values;
    }

    private static NoteUnit Largest(Span length)
    {
        for (var power = NoteBase.Maxima; ; power--)
        {
            for (var dots = 3; dots >= 0; dots--)
            {
                var unit = new NoteUnit(power, dots);
                if (unit.Length <= length && (dots == 0 || unit.Length == length))
                {
                    return unit;
                }
            }
        }
    }

    private static VoiceEvent Piece(VoiceEvent whole, WrittenValue? value, Span length, bool isFirst, bool isLast)
    {
        ValueList<Mark> marks = [.. whole.Marks.Where(mark => BelongsToTheEnd(mark) ? isLast : isFirst)];
        var lyrics = isFirst ? whole.Lyrics : [];
        switch (whole)
        {
            case NotesEvent notes:
                ValueList<WrittenNote> heads =
                [
                    .. notes.Notes.Select(note => note with
                    {
                        TiedFrom = isFirst ? note.TiedFrom : new TieEnd(),
                        TiedTo = isLast ? note.TiedTo : new TieEnd(),
                        LetRing = isLast && note.LetRing,
                        Accidental = isFirst ? note.Accidental : null,
                    }),
                ];
                return notes.WithNotes(heads).WithValue(value, value is null ? length : null) with
                {
                    TupletsApart = value is null ? notes.Tuplets : [],
                    Marks = marks,
                    Lyrics = lyrics,
                    Late = isFirst ? notes.Late : Span.Zero,
                };
            case RestEvent rest:
                return new RestEvent(value, value is null ? length : null)
                {
                    IsHidden = rest.IsHidden,
                    IsCue = rest.IsCue,
                    Position = rest.Position,
                    Staff = rest.Staff,
                    Passes = rest.Passes,
                    TupletsApart = value is null ? rest.Tuplets : [],
                    Marks = marks,
                    Lyrics = lyrics,
                    Pins = rest.Pins,
                    Annotations = rest.Annotations,
                    Origin = rest.Origin,
                };
            case GapEvent gap:
                return new GapEvent(length)
                {
                    Staff = gap.Staff,
                    Marks = marks,
                    Lyrics = lyrics,
                    Pins = gap.Pins,
                    Annotations = gap.Annotations,
                    Origin = gap.Origin,
                };
            default:
                throw new ArgumentException("Only notes, rests and gaps can be split.", nameof(whole));
        }
    }
}
