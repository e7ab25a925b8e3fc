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
        var line = draft.Band.BassOf(part);
        for (var i = 0; i < line.Count; i++)
        {
            var (note, value, pitch) = line[i];
            if (draft.Holds(note.Onset))
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
    }

    public static void WriteSustain(BarDraft draft, int part)
    {
        var line = draft.Band.SustainOf(part);
        foreach (var held in line.Notes)
        {
            if (draft.Holds(held.Note.Onset))
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
                        OverlapMicroseconds = held.Legato ? LegatoOverlap : BowTurn,
                        Stroke = draft.Band.Parts[part].Instrument.Technique == Technique.Bow
                            ? (held.Bow % 2 == 0 ? Stroke.Down : Stroke.Up)
                            : Stroke.None,
                        Written = held.Written with { Onset = held.Written.Onset - draft.BarLine },
                    },
                    held.Bow);
            }
        }

        for (var bow = 0; bow < line.Bows.Count; bow++)
        {
            AddSwell(draft, part, line.Bows[bow], bow);
        }
    }

    // Each bow swells to its middle and falls again.
    private static void AddSwell(BarDraft draft, int part, Bow bow, int number)
    {
        if (bow.Onset >= draft.End || bow.Onset + bow.Length <= draft.BarLine)
        {
            return;
        }

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
                draft.AddControl(part, Role.Sustain, at - draft.BarLine, Expression, value, number);
            }

            before = value;
        }
    }
}
