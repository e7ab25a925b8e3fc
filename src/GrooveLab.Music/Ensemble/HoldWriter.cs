using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a held bar: all strike its chord and let it ring until the count leads on.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class HoldWriter
{
    /// <summary>Expression at the strike and at the end of the hold.</summary>
    private const int Strong = 112, Soft = 72;

    private const int Expression = 11;

    /// <summary>Number of steps in the sustain's decrescendo.</summary>
    private const int Steps = 32;

    /// <summary>Maximum duration of a bow, in seconds.</summary>
    private const int LongestBow = 6;

    public static void Write(BarDraft draft, int part)
    {
        var player = draft.Band.Parts[part];
        if (player.Role == Role.Count)
        {
            Lead(draft, part);
            return;
        }

        var held = draft.Place.HeldFor;
        Remark(draft);
        var chord = draft.Band.Outline.Chords.IndexAt(draft.BarLine);
        if (draft.Band.Outline.Chords[chord].Symbol.IsNoChord)
        {
            return;
        }

        switch (player.Role)
        {
            case Role.Pulse:
                PulseWriter.WriteClearHit(draft, part, chord, held);
                break;
            case Role.Roll:
                RollWriter.WriteClearHit(draft, part, chord, held);
                break;
            case Role.Bass:
                foreach (var note in draft.Band.BassOf(part).Where(note => note.Note.Onset == draft.BarLine))
                {
                    Hold(draft, part, Role.Bass, BassLine.BaseVelocity + 6, note.Note.Key, new WrittenOrigin { Pitch = note.Pitch, Onset = Span.Zero, Length = held });
                }

                break;
            default:
                var bows = (int)(draft.Place.Tempi[0].Tempo.Seconds(held) / LongestBow).Ceiling();
                // A tune that moves during the hold may reach a held key: it then has the key to itself.
                var sung = draft.Band.Sung.KeysIn(draft.BarLine, draft.BarLine + held);
                foreach (var line in draft.Band.SustainOf(part).Notes
                    .Where(line => line.Note.Onset <= draft.BarLine && line.Note.End > draft.BarLine && !sung.Contains(line.Note.Key)))
                {
                    for (var bow = 0; bow < bows; bow++)
                    {
                        Hold(draft, part, Role.Sustain, SustainLine.BaseVelocity + 6, line.Note.Key, line.Written with
                        {
                            Onset = held * new Rational(bow, bows),
                            Length = held / bows,
                            Late = Span.Zero,
                            Join = bow == 0 ? NoteJoin.None : NoteJoin.HeldOn,
                        });
                    }
                }

                Fall(draft, part, held);
                break;
        }
    }

    private static void Remark(BarDraft draft)
    {
        var chords = draft.Place.Chords;
        if (chords.Count > 1)
        {
            draft.Remark($"bar {draft.Place.Index + 1} is held on {chords[0].Symbol}; {string.Join(" and ", chords.Skip(1).Select(chord => chord.Symbol.ToString()))} {(chords.Count == 2 ? "is" : "are")} not heard");
        }
    }

    // Each unit of the rest of the bar is clicked, whatever the feel, so that the band finds its time again.
    private static void Lead(BarDraft draft, int part)
    {
        if (((CountSettings)draft.Band.Parts[part].Settings).On == CountOn.Nothing)
        {
            return;
        }

        var place = draft.Place;
        foreach (var click in CountWriter.Clicks(part, place, [.. FeltLevel.Unit.BeatsIn(place.Meter, place.GroupPlace).Where(beat => beat >= place.HeldFor)]))
        {
            draft.Add(click, (int)(click.Onset / place.Meter.Unit).Numerator);
        }
    }

    private static void Fall(BarDraft draft, int part, Span held)
    {
        for (var step = 0; step < Steps; step++)
        {
            draft.AddControl(part, Role.Sustain, held * new Rational(step, Steps), Expression, Strong - ((Strong - Soft) * step / (Steps - 1)), 0);
        }
    }

    private static void Hold(BarDraft draft, int part, Role role, int velocity, int key, WrittenOrigin written) => draft.Add(
        new NoteEvent
        {
            Part = part,
            Role = role,
            Onset = written.Onset,
            Length = written.Length,
            Key = key,
            Velocity = velocity,
            Written = written,
        },
        0);
}
