using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of the tune as it is sung in one playing of its section.</summary>
/// <param name="Note">What sounds.</param>
/// <param name="Graces">Written grace notes before it.</param>
/// <param name="Written">What it is on paper; its place from the run's first bar line, its pitch as the chart has it.</param>
internal readonly record struct TuneLineNote(LineNote Note, IReadOnlyList<Pitch> Graces, WrittenOrigin Written)
{
    /// <summary>How far it comes after its written place.</summary>
    public Span Late => Written.Late;

    /// <summary>What is sung on it, with a hyphen where its word goes on; null for nothing new.</summary>
    public string? Syllable => Written.Syllable is not { Note: 1, Syllable: var syllable }
        ? null
        : syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? syllable.Text + "-" : syllable.Text;
}

/// <summary>The tune of one playing of a section, with the words of its verse, and the pickup into the section after it.</summary>
internal sealed class TuneLine
{
    public const int BaseVelocity = 78;

    private TuneLine(List<TuneLineNote> notes)
    {
        Notes = notes;
    }

    public static TuneLine Empty { get; } = new([]);

    public IReadOnlyList<TuneLineNote> Notes { get; }

    /// <summary>The tune of a run.</summary>
    /// <param name="outline">The run.</param>
    /// <param name="sings">True when the run's own notes are played.</param>
    /// <param name="leadsOn">True when the pickup into the next run is.</param>
    public static TuneLine For(RunOutline outline, bool sings, bool leadsOn)
    {
        var notes = new List<TuneLineNote>();
        if (sings && outline.Run.Section.Tune is { } tune)
        {
            Add(notes, tune, outline.Run, Span.Zero, note => note.Onset >= Span.Zero && note.Onset < outline.Length);
            if (notes.Count > 0)
            {
                // Where a loop turns back inside a section, what would go on is cut.
                notes[^1] = CutAt(notes[^1], outline.Length);
            }
        }

        if (leadsOn && outline.Next.Section.Tune is { } next && next.PickupLength > Span.Zero)
        {
            // Whoever sings breathes before the pickup: what still sounds there is cut.
            var start = Span.Max(Span.Zero, outline.Length - next.PickupLength);
            notes.RemoveAll(note => note.Note.Onset >= start);
            if (notes.Count > 0)
            {
                notes[^1] = CutAt(notes[^1], start);
            }

            Add(notes, next, outline.Next, outline.Length, note => note.Onset < Span.Zero && outline.Length + note.Onset >= Span.Zero);
        }

        return notes.Count == 0 ? Empty : new TuneLine(notes);
    }

    /// <summary>
    /// The same, laid back: notes on group starts that last long enough come later, and end later as far as the next one lets them. Never on
    /// two starts of bar groups running, so that nobody loses the pulse. Common practice, no source.
    /// </summary>
    public TuneLine LaidBack(RunOutline outline, LayBack by)
    {
        if (by == LayBack.None || Notes.Count == 0)
        {
            return this;
        }

        var notes = new List<TuneLineNote>(Notes);
        var bar = 0;
        var lateStart = false;
        for (var i = 0; i < notes.Count; i++)
        {
            var note = notes[i].Note;
            while (bar + 1 < outline.Places.Length && outline.OnsetOf(bar + 1) <= note.Onset)
            {
                bar++;
            }

            var place = outline.Places[bar];
            var delay = by == LayBack.Unit ? place.Meter.Unit : place.Meter.Unit / 2;
            var at = note.Onset - outline.OnsetOf(bar);
            if (at >= place.Length || place.Stop == BandStop.Hold || !FeltLevel.Group.BeatsIn(place.Meter, place.GroupPlace).Contains(at))
            {
                continue;
            }

            var opens = at == Span.Zero && place.GroupPlace.IsFirst;
            var late = note.Length >= delay * 2 && notes[i].Graces.Count == 0 && !(opens && lateStart);
            lateStart = opens ? late : lateStart;
            if (late)
            {
                var next = i + 1 < notes.Count ? Span.Max(note.End, Span.Min(note.End + delay, notes[i + 1].Note.Onset)) : note.End;
                notes[i] = notes[i] with
                {
                    Note = note with { Onset = note.Onset + delay, Length = next - note.Onset - delay },
                    Written = notes[i].Written with { Late = delay },
                };
            }
        }

        // Who comes late lets the note before go on until then.
        for (var i = 0; i + 1 < notes.Count; i++)
        {
            var gap = notes[i + 1].Note.Onset - notes[i].Note.End;
            if (notes[i + 1].Late > Span.Zero && gap == notes[i + 1].Late && Consonants.Of(notes[i + 1].Syllable) != Consonant.Held)
            {
                notes[i] = notes[i] with { Note = notes[i].Note with { Length = notes[i].Note.Length + gap } };
            }
        }

        return new TuneLine(notes);
    }

    /// <summary>The pickup before the first bar line of all, placed from there.</summary>
    public static IReadOnlyList<TuneLineNote> PickupOf(SectionRun run)
    {
        var notes = new List<TuneLineNote>();
        if (run.Section.Tune is { } tune)
        {
            Add(notes, tune, run, Span.Zero, note => note.Onset < Span.Zero);
        }

        return notes;
    }

    private static TuneLineNote CutAt(TuneLineNote note, Span at) =>
        note.Note.End > at ? note with { Note = note.Note with { Length = at - note.Note.Onset } } : note;

    private static void Add(List<TuneLineNote> to, Tune tune, SectionRun run, Span from, Func<TuneNote, bool> wanted)
    {
        var verse = tune.Verses.Count == 0 ? 0 : run.Verse % tune.Verses.Count;
        var words = tune.Verses.Count == 0 ? [] : tune.Verses[verse];
        SungSyllable? sung = null;
        for (var i = 0; i < tune.Notes.Count; i++)
        {
            sung = i < words.Count && words[i] is { } begins ? new SungSyllable(begins, 1, verse + 1)
                : sung is not null && sung.Note < sung.Syllable.Notes ? sung with { Note = sung.Note + 1 }
                : null;
            var note = tune.Notes[i];
            if (wanted(note))
            {
                var written = new WrittenOrigin
                {
                    Pitch = note.Pitch,
                    Onset = from + note.Onset,
                    Length = note.Length,
                    Syllable = sung,
                    Tune = new TuneOrigin(run.Section.Name, run.Verse, i, 0),
                };
                to.Add(new TuneLineNote(new LineNote(written.Onset, note.Length, note.Pitch.Midi, BaseVelocity), note.Graces, written));
            }
        }
    }
}
