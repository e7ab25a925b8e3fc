using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of the tune as it is sung in one playing of its section.</summary>
internal readonly record struct TuneLineNote(LineNote Note, IReadOnlyList<Pitch> Graces, string? Syllable);

/// <summary>The tune of one playing of a section, with the words of its verse, and the pickup into the section after it.</summary>
internal sealed class TuneLine
{
    public const int BaseVelocity = 78;

    private TuneLine(List<TuneLineNote> notes)
    {
        Notes = notes;
        Sounding = new Sounding([.. notes.Select(note => note.Note)]);
    }

    public static TuneLine Empty { get; } = new([]);

    public IReadOnlyList<TuneLineNote> Notes { get; }

    public Sounding Sounding { get; }

    public static TuneLine For(RunOutline outline, bool leadsOn)
    {
        var notes = new List<TuneLineNote>();
        if (outline.Run.Section.Tune is { } tune)
        {
            Add(notes, tune, outline.Run.Verse, Span.Zero, note => note.Onset >= Span.Zero);
        }

        if (leadsOn && outline.Next.Section.Tune is { } next && next.PickupLength > Span.Zero)
        {
            // Whoever sings breathes before the pickup: what still sounds there is cut.
            var start = Span.Max(Span.Zero, outline.Length - next.PickupLength);
            notes.RemoveAll(note => note.Note.Onset >= start);
            if (notes.Count > 0 && notes[^1].Note.End > start)
            {
                var last = notes[^1];
                notes[^1] = last with { Note = last.Note with { Length = start - last.Note.Onset } };
            }

            Add(notes, next, outline.Next.Verse, outline.Length, note => note.Onset < Span.Zero && outline.Length + note.Onset >= Span.Zero);
        }

        return notes.Count == 0 ? Empty : new TuneLine(notes);
    }

    /// <summary>The pickup before the first bar line of all, placed from there.</summary>
    public static IReadOnlyList<TuneLineNote> PickupOf(SectionRun run)
    {
        var notes = new List<TuneLineNote>();
        if (run.Section.Tune is { } tune)
        {
            Add(notes, tune, run.Verse, Span.Zero, note => note.Onset < Span.Zero);
        }

        return notes;
    }

    private static void Add(List<TuneLineNote> to, Tune tune, int verse, Span from, Func<TuneNote, bool> wanted)
    {
        var words = tune.Verses.Count == 0 ? null : tune.Verses[verse % tune.Verses.Count];
        for (var i = 0; i < tune.Notes.Count; i++)
        {
            var note = tune.Notes[i];
            if (wanted(note))
            {
                var syllable = words is not null && i < words.Count ? Written(words[i]) : null;
                to.Add(new TuneLineNote(
                    new LineNote(from + note.Onset, note.Length, note.Pitch.Midi, BaseVelocity), note.Graces, syllable));
            }
        }
    }

    // A hyphen behind a syllable says that its word goes on.
    private static string? Written(Syllable? syllable) => syllable is null
        ? null
        : syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? syllable.Text + "-" : syllable.Text;
}
