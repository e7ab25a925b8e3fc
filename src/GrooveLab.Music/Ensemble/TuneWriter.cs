using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Score;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a tune part: the melody as the chart has it, with the words of its verse.</summary>
internal static class TuneWriter
{
    /// <summary>How long a grace note takes, in microseconds; it comes before the beat.</summary>
    private const int Grace = 70_000;

    public static void Write(BarDraft draft, int part)
    {
        var place = draft.Place;
        foreach (var sung in draft.Band.Tune.Notes)
        {
            if (draft.Holds(sung.Note.Onset))
            {
                var onset = sung.Note.Onset - draft.BarLine;
                var units = onset / place.Meter.Unit;
                var steps = units.IsInteger ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)units.Numerator) : 0;
                var late = Late(sung.Note, onset, place.Meter, (TuneSettings)draft.Band.Parts[part].Settings);
                foreach (var note in Notes(sung, part, draft.Band.Parts[part], onset, steps / 4, place.Tempo))
                {
                    draft.Add(note with { Onset = note.Onset + late, Length = note.Length > late ? note.Length - late : note.Length }, (int)units.Floor());
                }
            }
        }
    }

    // A note is late only where at least as much of it is left, and never across a bar line.
    private static Span Late(LineNote note, Span onset, BarMeter meter, TuneSettings settings)
    {
        var delay = settings.LaidBack switch
        {
            LayBack.Half => meter.Unit / 2,
            LayBack.Unit => meter.Unit,
            _ => Span.Zero,
        };
        var starts = meter.GroupStartUnits.Any(unit => meter.Unit * unit == onset);
        return starts && note.Length >= delay * 2 && onset + delay < meter.Length ? delay : Span.Zero;
    }

    /// <summary>The note with its grace notes before it.</summary>
    public static IEnumerable<NoteEvent> Notes(TuneLineNote sung, int part, Part player, Span onset, int accent, Tempo tempo)
    {
        var octaves = 12 * ((TuneSettings)player.Settings).Octaves;
        var main = new NoteEvent
        {
            Part = part,
            Role = Role.Tune,
            Onset = onset,
            Length = sung.Note.Length,
            Key = Math.Clamp(sung.Note.Key + octaves, 0, 127),
            Velocity = sung.Note.Velocity + accent,
            Syllable = sung.Syllable,
        };
        for (var i = 0; i < sung.Graces.Count; i++)
        {
            // In 960ths of a whole note, so that lengths stay readable fractions.
            var length = (tempo.WholesPerMinute * Grace / 60_000_000 * 960).Round();
            yield return main with
            {
                Length = Span.Of(Math.Max(1, length), 960),
                Key = Math.Clamp(sung.Graces[i].Midi + octaves, 0, 127),
                Velocity = main.Velocity - 14,
                SpreadMicroseconds = -Grace * (sung.Graces.Count - i),
                Syllable = null,
            };
        }

        yield return main;
    }
}
