using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes stop-time: all strike a short downbeat together, and the rest of the bar belongs to the singer. Sustaining parts
/// rest.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class StopTimeWriter
{
    private const int Accent = 20;

    public static void Write(BarDraft draft, int part)
    {
        var chord = draft.Band.Outline.Chords.IndexAt(draft.BarLine);
        if (draft.Band.Outline.Chords[chord].Symbol.IsNoChord)
        {
            return;
        }

        switch (draft.Band.Parts[part].Role)
        {
            case Role.Pulse:
                PulseWriter.WriteClearHit(draft, part, chord, draft.Place.Meter.Unit);
                break;
            case Role.Roll:
                RollWriter.WriteClearHit(draft, part, chord, draft.Place.Meter.Unit);
                break;
            case Role.Bass:
                foreach (var note in draft.Band.BassOf(part).Where(note => note.Note.Onset == draft.BarLine))
                {
                    draft.Add(Hit(draft, part, note), 0);
                }

                break;
        }
    }

    private static NoteEvent Hit(BarDraft draft, int part, BassNote note) => new()
    {
        Part = part,
        Role = Role.Bass,
        Onset = Span.Zero,
        Length = draft.Place.Meter.Unit,
        Key = note.Note.Key,
        Velocity = BassLine.BaseVelocity + Accent,
        Written = new WrittenOrigin { Pitch = note.Pitch, Onset = Span.Zero, Length = draft.Place.Meter.Unit },
    };
}
