using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes stop-time: everyone strikes the downbeat together, short, and then it is the singer's bar. Who holds rests.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class StopTimeWriter
{
    private const int Accent = 20;

    public static void Write(BarDraft draft, int part)
    {
        var chord = draft.Band.Outline.ChordIndexAt(draft.BarLine);
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
                foreach (var note in draft.Band.BassOf(part).Where(note => note.Onset == draft.BarLine))
                {
                    draft.Add(Hit(draft, part, Role.Bass, note.Key, BassLine.BaseVelocity), 0);
                }

                break;
        }
    }

    private static NoteEvent Hit(BarDraft draft, int part, Role role, int key, int velocity) => new()
    {
        Part = part,
        Role = role,
        Onset = Span.Zero,
        Length = draft.Place.Meter.Unit,
        Key = key,
        Velocity = velocity + Accent,
    };
}
