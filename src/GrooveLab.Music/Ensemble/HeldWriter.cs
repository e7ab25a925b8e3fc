using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes the bass and the sustain of a bar from their lines for the whole run.</summary>
internal static class HeldWriter
{
    /// <summary>MIDI controller for expression.</summary>
    private const int Expression = 11;

    /// <summary>The overlap of two legato notes, in microseconds.</summary>
    private const int LegatoOverlap = 40_000;

    /// <summary>The gap at a bow change, in microseconds.</summary>
    private const int BowTurn = -25_000;

    private const int Softest = 84;
    private const int Loudest = 116;

    /// <summary>The approximate interval of the steps of a swell, in seconds.</summary>
    private static readonly Rational SwellStep = new(1, 20);

    public static void WriteBass(BarDraft draft, int part)
    {
        foreach (var (i, (note, value, pitch)) in draft.Band.BassIn(part, draft.Place.IndexInRun))
        {
            draft.Add(
                new NoteEvent
                {
                    Part = part,
                    Role = Role.Bass,
                    Onset = note.Onset - draft.BarLine,
                    Length = note.Length,
                    Key = note.Key,
                    Velocity = note.Velocity + draft.Evenness,
                    Written = new WrittenOrigin { Pitch = pitch, Onset = note.Onset - draft.BarLine, Length = value },
                },
                i);
        }
    }

    public static void WriteSustain(BarDraft draft, int part)
    {
        foreach (var (_, held) in draft.Band.SustainIn(part, draft.Place.IndexInRun))
        {
            draft.Add(
                new NoteEvent
                {
                    Part = part,
                    Role = Role.Sustain,
                    Onset = held.Note.Onset - draft.BarLine,
                    Length = held.Note.Length,
                    Key = held.Note.Key,
                    Velocity = held.Note.Velocity,
                    LeanMicroseconds = LeanOf(draft, part, held.Bow),
                    OverlapMicroseconds = held.Legato ? LegatoOverlap : BowTurn,
                    Stroke = draft.Band.Parts[part].Instrument.Technique == Technique.Bow
                        ? (held.Bow % 2 == 0 ? Stroke.Down : Stroke.Up)
                        : Stroke.None,
                    Written = held.Written with { Onset = held.Written.Onset - draft.BarLine },
                },
                held.Bow);
        }

        var bows = draft.Band.SustainOf(part).Bows;
        for (var bow = FirstReaching(bows, draft.BarLine); bow < bows.Count && bows[bow].Onset < draft.End; bow++)
        {
            AddSwell(draft, part, bows[bow], bow);
        }
    }

    // The bows of a bar group are one phrase.
    private static int LeanOf(BarDraft draft, int part, int bow)
    {
        if (((SustainSettings)draft.Band.Parts[part].Settings).LaidBack != LayBack.Lean)
        {
            return 0;
        }

        var outline = draft.Band.Outline;
        var group = outline.Places[outline.BarAt(draft.Band.SustainOf(part).Bows[bow].Onset)].GroupPlace.Group;
        return Lean.Of(draft.Band.Chance.At(part).At(outline.Run.Number), group);
    }

    // The first bow that goes on after a place: bows follow each other without a gap.
    private static int FirstReaching(IReadOnlyList<Bow> bows, Span place)
    {
        var low = 0;
        var high = bows.Count;
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (bows[middle].Onset + bows[middle].Length <= place)
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }

    // Each bow swells to its middle and falls again.
    private static void AddSwell(BarDraft draft, int part, Bow bow, int number)
    {
        var seconds = draft.Place.Tempo.Seconds(bow.Length);
        var steps = (int)Math.Clamp((seconds / SwellStep).Round(), 4, 128);
        var before = -1;
        for (var step = 0; step < steps; step++)
        {
            var way = (double)step / (steps - 1);
            var value = Softest + (int)Math.Round((Loudest - Softest) * Math.Sin(Math.PI * way));
            var at = bow.Onset + (bow.Length * new Rational(step, steps));
            if (value != before && draft.Holds(at))
            {
                draft.AddControl(part, Role.Sustain, at - draft.BarLine, Expression, value, number, LeanOf(draft, part, number));
            }

            before = value;
        }
    }
}
