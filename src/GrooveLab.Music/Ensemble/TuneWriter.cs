using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a tune part: the melody as in the chart, with the words of its verse.</summary>
internal static class TuneWriter
{
    /// <summary>The length of a grace note before the beat, in microseconds. After a short note they are shorter: together they take half of it at
    /// most. Common practice, no source.</summary>
    private const int Grace = 70_000;

    /// <summary>The lengths of the mark of a stopping consonant and of a held one, in microseconds.</summary>
    private const int StoppedGrace = 45_000, HeldGrace = 90_000;

    /// <summary>The longest time that a consonant is held before a late vowel, in microseconds. Common practice, no source.</summary>
    private const int LongestConsonant = 250_000;

    private const int MicrosecondsInHalfASecond = 500_000;

    public static void Write(BarDraft draft, int part)
    {
        var place = draft.Place;
        foreach (var sung in draft.Band.TuneIn(part, place.IndexInRun))
        {
            var onset = sung.Note.Onset - draft.BarLine;
            var units = onset / place.Meter.Unit;
            var steps = units.IsInteger ? AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, (int)units.Numerator) : 0;
            foreach (var note in Notes(sung, part, draft.Band.Parts[part], onset, steps / 4, place.TempoAt(onset), draft.Band.Outline))
            {
                draft.Add(note with { LeanMicroseconds = LeanOf(draft, part, sung) }, (int)units.Floor());
            }
        }

        if (TuneSwell.Has(draft.Band.Parts[part]) && draft.Band.TunesOf(part) is [var first, ..])
        {
            AddSwells(draft, part, first.Notes);
        }
        else if (draft.Band.Parts[part].Instrument.Holds && FirstIn(draft, part) is { } note)
        {
            // The swells of bars before it may have been switched off in the middle of one.
            var full = TuneSwell.Full(part);
            var onset = note.Note.Onset - draft.BarLine;
            draft.AddControl(part, Role.Tune, onset, full.Controller, full.Value, (int)(onset / draft.Place.Meter.Unit).Floor(), LeanOf(draft, part, note));
        }
    }

    // One bow, bellows or breath for all lines of the part: the first line leads.
    private static void AddSwells(BarDraft draft, int part, IReadOnlyList<TuneLineNote> line)
    {
        for (var i = Math.Max(0, FirstFrom(line, draft.BarLine) - 1); i < line.Count && line[i].Note.Onset < draft.End; i++)
        {
            var note = line[i].Note;
            var units = Span.Max(Span.Zero, note.Onset - draft.BarLine) / draft.Place.Meter.Unit;
            foreach (var point in TuneSwell.Of(part, note.Onset, note.Length, draft.Band.Outline.TempoAt(note.Onset)).Where(point => draft.Holds(point.Onset)))
            {
                draft.AddControl(part, Role.Tune, point.Onset - draft.BarLine, point.Controller, point.Value, (int)units.Floor(), LeanOf(draft, part, line[i]));
            }
        }
    }

    // The first note that starts in the bar; null for none.
    private static TuneLineNote? FirstIn(BarDraft draft, int part) =>
        draft.Band.TunesOf(part) is [var line, ..] && FirstFrom(line.Notes, draft.BarLine) is var i && i < line.Notes.Count && line.Notes[i].Note.Onset < draft.End
            ? line.Notes[i] : null;

    private static int LeanOf(BarDraft draft, int part, TuneLineNote sung) =>
        ((TuneSettings)draft.Band.Parts[part].Settings).LaidBack == LayBack.Lean ? Lean.Of(draft.Band.Chance.At(part).At(draft.Band.Outline.Run.Number), sung.Phrase) : 0;

    private static int FirstFrom(IReadOnlyList<TuneLineNote> line, Span place)
    {
        var low = 0;
        var high = line.Count;
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = line[middle].Note.Onset < place ? (middle + 1, high) : (low, middle);
        }

        return low;
    }

    /// <summary>Writes the note with its grace notes, and the mark of its consonant before it, or on the beat if the note is late.</summary>
    public static IEnumerable<NoteEvent> Notes(TuneLineNote sung, int part, Part player, Span onset, int accent, Tempo tempo, RunOutline outline)
    {
        var settings = (TuneSettings)player.Settings;
        var octaves = 12 * settings.Octaves;
        var key = outline.Run.Key;
        var main = new NoteEvent
        {
            Part = part,
            Role = Role.Tune,
            Onset = onset,
            Length = sung.Note.Length,
            Key = Math.Clamp(sung.Note.Key + octaves, 0, 127),
            Velocity = Math.Clamp(TuneSwell.Has(player) ? TuneSwell.VelocityOf(sung.Note.Velocity + accent) : sung.Note.Velocity + accent, 1, 127),
            OverlapMicroseconds = sung.Overlap,
            Syllable = sung.Syllable,
            Written = sung.Written with
            {
                Pitch = Moved(sung.Written.Pitch!.Value, settings.Octaves),
                Onset = onset - sung.Late,
                Tune = sung.Written.Tune! with { Octaves = settings.Octaves },
            },
        };
        var room = sung.Ahead is { } ahead ? (int)Rational.Min(tempo.Seconds(ahead) * MicrosecondsInHalfASecond, int.MaxValue).Floor() : int.MaxValue;
        var each = Math.Max(1, Math.Min(Grace, room / Math.Max(1, sung.Graces.Count)));
        for (var i = 0; i < sung.Graces.Count; i++)
        {
            var grace = Ornamented(main, OrnamentKind.Grace, i + 1, sung.Graces.Count, Moved(sung.Graces[i], settings.Octaves));
            yield return Before(grace, Math.Clamp(sung.Graces[i].Midi + octaves, 0, 127), each, each * (sung.Graces.Count - i), tempo);
        }

        var consonant = settings.Consonants && sung.Graces.Count == 0 ? Consonants.Of(sung.Syllable) : Consonant.None;
        if (consonant == Consonant.Held && sung.Late > Span.Zero)
        {
            yield return Ornamented(main, OrnamentKind.HeldConsonant, 1, 1, main.Written.Pitch!.Value) with
            {
                Onset = onset - sung.Late,
                Length = Span.Min(sung.Late, Lasting(LongestConsonant, tempo)),
                Velocity = Math.Max(1, main.Velocity - 18),
            };
        }
        else if (consonant != Consonant.None && sung.Late == Span.Zero)
        {
            var step = Math.Max(0, Enumerable.Range(1, 2).Select(down => main.Key - down).FirstOrDefault(key.Contains, main.Key - 2));
            var lasts = Math.Max(1, Math.Min(consonant == Consonant.Held ? HeldGrace : StoppedGrace, room));
            var mark = Ornamented(main, OrnamentKind.Consonant, 1, 1, outline.Spell(step, sung.Written.Onset, main.Written.Pitch));
            yield return Before(mark, step, lasts, lasts, tempo);
        }

        yield return main;
    }

    private static Pitch Moved(Pitch pitch, int octaves) => pitch with { Octave = pitch.Octave + octaves };

    private static NoteEvent Ornamented(NoteEvent main, OrnamentKind kind, int number, int count, Pitch pitch) => main with
    {
        OverlapMicroseconds = 0,
        Syllable = null,
        Written = main.Written with { Pitch = pitch, Length = Span.Zero, Late = Span.Zero, Ornament = new Ornament(kind, number, count), Syllable = null },
    };

    private static NoteEvent Before(NoteEvent ornament, int key, int lasts, int early, Tempo tempo) => ornament with
    {
        Length = Lasting(lasts, tempo),
        Key = key,
        Velocity = Math.Max(1, ornament.Velocity - 14),
        SpreadMicroseconds = -early,
    };

    // Rounded to 960ths of a whole note, so that lengths stay readable fractions.
    private static Span Lasting(int microseconds, Tempo tempo) =>
        Span.Of(Math.Max(1, (tempo.WholesPerMinute * microseconds / 60_000_000 * 960).Round()), 960);
}
