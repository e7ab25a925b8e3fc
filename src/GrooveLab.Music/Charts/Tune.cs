using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>The melody of a section with its words, and further lines: written music, with a view of it as plain lists of notes. The
/// first part is the melody; each other part is a further line. An uncounted first measure is the pickup.</summary>
/// <remarks>Its measures have lengths but no meters: those are in the section's bars.</remarks>
public sealed record Tune
{
    /// <summary>Creates a tune from written music.</summary>
    /// <param name="written">At least one part; each with one voice.</param>
    /// <exception cref="ArgumentException">No part.</exception>
    public Tune(WrittenMusic written)
    {
        if (written.Parts.Count == 0)
        {
            throw new ArgumentException("A tune needs at least one part.", nameof(written));
        }

        Written = written;
        Melody = TuneVoice.Of(written, 0);
        Lines = [.. Enumerable.Range(1, written.Parts.Count - 1).Select(part => TuneVoice.Of(written, part))];
        PickupLength = Lines.Prepend(Melody).Select(voice => voice.PickupLength).Aggregate(Span.Max);
    }

    /// <summary>The written music.</summary>
    public WrittenMusic Written { get; }

    /// <summary>The melody.</summary>
    public TuneVoice Melody { get; }

    /// <summary>The further lines, such as a second voice; usually none.</summary>
    public IReadOnlyList<TuneVoice> Lines { get; }

    /// <summary>The melody's notes in order of onset; no overlaps. Notes of the pickup have negative onsets.</summary>
    public IReadOnlyList<TuneNote> Notes => Melody.Notes;

    /// <summary>The melody's verses; each has a syllable or null for each note.</summary>
    public IReadOnlyList<IReadOnlyList<Syllable?>> Verses => Melody.Verses;

    /// <summary>The time from the first note of any line to the section's first bar line; zero without a pickup.</summary>
    public Span PickupLength { get; }

    /// <summary>A pickup is shorter than this many bars.</summary>
    public const int MostPickupBars = 4;

    /// <summary>The melody, line 0, or a further line from 1; null if that line does not exist.</summary>
    public TuneVoice? Voice(int line) => line == 0 ? Melody : line <= Lines.Count ? Lines[line - 1] : null;

    /// <summary>Creates a tune from plain notes, adding ties over bar lines and rests in gaps.</summary>
    /// <param name="notes">The notes, in order of onset, no overlaps; notes before the first bar line have negative onsets.</param>
    /// <param name="verses">The verses; each has a syllable or null for each note.</param>
    /// <param name="bars">The length of each bar of the section. Notes after the last bar go into one more measure.</param>
    public static Tune Of(IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<Span> bars) =>
        new TuneBuilder(bars).Add("tune", TuneBuilder.Measures(notes, bars), verses).Made();

    /// <summary>Creates a tune from plain notes for the bars of a section; see the other overload.</summary>
    public static Tune Of(IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<ChartBar> bars) =>
        Of(notes, verses, [.. bars.Select(bar => bar.Meter.Length)]);

    /// <summary>The tune transposed by an interval.</summary>
    public Tune Transposed(Interval interval)
    {
        return new Tune(new WrittenMusic(Written.Measures, [.. Written.Parts.Select(PartMoved)])
        {
            Headings = Written.Headings,
            Annotations = Written.Annotations,
            Origin = Written.Origin,
        });

        WrittenPart PartMoved(WrittenPart part) => part with
        {
            Measures =
            [
                .. part.Measures.Select(measure => measure with
                {
                    Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.Select(Moved)] })],
                }),
            ],
        };

        VoiceEvent Moved(VoiceEvent one) => one is not NotesEvent notes ? one : notes.WithNotes(
        [
            .. notes.Notes.Select(note => note.Pitch is { } pitch ? note.WithPitch(pitch.Transpose(interval)) with { Accidental = null } : note),
        ]);
    }

    /// <summary>True when the written music is equal.</summary>
    public bool Equals(Tune? other) => other is not null && Written.Equals(other.Written);

    /// <inheritdoc/>
    public override int GetHashCode() => Written.GetHashCode();
}

/// <summary>A line of a tune as a plain list of notes with its words. Derived from the written music.</summary>
public sealed record TuneVoice
{
    private TuneVoice(string name, IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<TuneDynamic> dynamics)
    {
        Name = name;
        Notes = notes;
        Verses = verses;
        Dynamics = dynamics;
    }

    /// <summary>The name of the line.</summary>
    public string Name { get; }

    /// <summary>Its notes in order of onset; no overlaps. Notes of the pickup have negative onsets.</summary>
    public IReadOnlyList<TuneNote> Notes { get; }

    /// <summary>Its verses; each has a syllable or null for each note.</summary>
    public IReadOnlyList<IReadOnlyList<Syllable?>> Verses { get; }

    /// <summary>The time from its start to the section's first bar line; zero without a pickup.</summary>
    public Span PickupLength => Notes.Count > 0 && Notes[0].Onset < Span.Zero ? -Notes[0].Onset : Span.Zero;

    /// <summary>Its dynamics and the starts and ends of its hairpins, in order.</summary>
    public IReadOnlyList<TuneDynamic> Dynamics { get; }

    internal static TuneVoice Of(WrittenMusic written, int part)
    {
        var pickup = written.Measures.Count > 0 && written.Measures[0].IsUncounted ? written.LengthOf(0) ?? Span.Zero : Span.Zero;
        var ours = written.Parts[part];
        var sounding = Sounding(written, part);
        var notes = sounding.ConvertAll(note => new TuneNote(
            note.Onset - pickup,
            note.Length,
            note.Note.Pitch!.Value.Nearest,
            [.. note.GracesBefore.Select(grace => grace.Event.Notes[0].Pitch?.Nearest).OfType<Pitch>()])
        {
            Late = note.Event.Late,
            Marks = [.. note.Sources.SelectMany(source => Event(ours, source).Marks)],
        });
        var verses = ours.Verses.Select(number => (IReadOnlyList<Syllable?>)Verse(sounding, ours, number)).ToList();
        return new TuneVoice(ours.Name, notes, verses, [.. DynamicsOf(written, ours, pickup)]);
    }

    /// <summary>The sounding notes of a line, one for each of its notes.</summary>
    internal static List<SoundingNote> Sounding(WrittenMusic written, int part)
    {
        var voice = written.Parts[part].VoiceNames.FirstOrDefault() ?? "1";

        // The highest note of a chord is the melody.
        return
        [
            .. SoundingNotes.OfVoice(written, part, voice)
                .Where(note => note.Note.Pitch is not null)
                .GroupBy(note => note.Onset)
                .Select(together => together.MaxBy(note => note.Note.Pitch!.Value.Sound)!),
        ];
    }

    private static VoiceEvent Event(WrittenPart part, NoteSource source) => part.Measures[source.Measure].Voices[source.Voice].Events[source.Event];

    private static Syllable?[] Verse(List<SoundingNote> notes, WrittenPart part, string number)
    {
        var verse = new Syllable?[notes.Count];
        var current = -1;
        for (var i = 0; i < notes.Count; i++)
        {
            var lyric = Event(part, notes[i].Sources[0]).Lyrics.FirstOrDefault(lyric => lyric.Number == number);
            if (lyric is { Parts.Count: > 0 })
            {
                current = i;
                verse[i] = Syllable.Of(lyric);
            }
            else if (i == 0 && lyric is { Extender: Extender.Continue or Extender.Stop })
            {
                current = i;
                verse[i] = Syllable.HeldOver;
            }
            else if (lyric is { Extender: not Extender.None } && current >= 0)
            {
                verse[current] = verse[current]! with { Notes = verse[current]!.Notes + 1 };
            }
            else
            {
                current = -1;
            }
        }

        return verse;
    }

    private static IEnumerable<TuneDynamic> DynamicsOf(WrittenMusic written, WrittenPart part, Span pickup)
    {
        var start = -pickup;
        for (var i = 0; i < part.Measures.Count; i++)
        {
            foreach (var mark in part.Measures[i].Marks.Where(mark => mark.Mark.Kind is MarkKind.Dynamics or MarkKind.Wedge).OrderBy(mark => mark.At))
            {
                yield return new TuneDynamic(start + mark.At, mark.Mark);
            }

            start += written.LengthOf(i) ?? Span.Zero;
        }
    }
}

/// <summary>A dynamic, or the start or end of a hairpin, of a tune.</summary>
/// <param name="Onset">From the section's first bar line.</param>
/// <param name="Mark">The mark.</param>
public sealed record TuneDynamic(Span Onset, Mark Mark);

/// <summary>A note of a tune. Tied notes are one note.</summary>
/// <param name="Onset">From the section's first bar line; negative in the pickup.</param>
/// <param name="Length">Its length, including ties.</param>
/// <param name="Pitch">Its sounding pitch.</param>
/// <param name="Graces">Grace notes before it, in order; usually none.</param>
public sealed record TuneNote(Span Onset, Span Length, Pitch Pitch, IReadOnlyList<Pitch> Graces)
{
    /// <summary>All marks on its written notes; usually none.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>How far it lays back after its place, in all verses; zero for in time.</summary>
    public Span Late { get; init; }

    /// <summary>True when it has a mark of that kind.</summary>
    public bool Has(MarkKind kind) => Marks.Has(kind);
}

/// <summary>A sung syllable.</summary>
/// <param name="Text">The syllable without its hyphen.</param>
/// <param name="Place">Its position in its word.</param>
/// <param name="Notes">Number of notes it is sung on: one, or more in a melisma.</param>
public sealed record Syllable(string Text, SyllablePlace Place, int Notes)
{
    /// <summary>The start of an ending over which the last syllable of its section is held; it has no text.</summary>
    public static Syllable HeldOver { get; } = new(string.Empty, SyllablePlace.Single, 1);

    /// <summary>True at the start of an ending that holds the last syllable of its section.</summary>
    public bool IsHeldOver => Text.Length == 0;

    /// <summary>Its stress.</summary>
    public Stress Stress { get; init; }

    /// <summary>How far it lays back after its note's place; null to follow the note.</summary>
    public Span? Late { get; init; }

    /// <summary>The syllable for a written one, sung on one note: elisions are joined by a space.</summary>
    internal static Syllable Of(Lyric lyric)
    {
        var from = lyric.Parts[0].Place is WordPlace.Middle or WordPlace.End;
        var on = lyric.Parts[^1].Place is WordPlace.Begin or WordPlace.Middle;
        var place = (from, on) switch
        {
            (false, false) => SyllablePlace.Single,
            (false, true) => SyllablePlace.Begin,
            (true, true) => SyllablePlace.Middle,
            _ => SyllablePlace.End,
        };
        var text = string.Concat(lyric.Parts.Select(part => (part.Join == LyricJoin.Elision ? " " : string.Empty) + part.Text));
        return new Syllable(text, place, 1) { Stress = lyric.Stress, Late = lyric.Late };
    }

    /// <summary>The written syllable on its first note.</summary>
    internal Lyric Written(string number)
    {
        if (IsHeldOver)
        {
            return new Lyric { Number = number, Extender = Notes > 1 ? Extender.Continue : Extender.Stop };
        }

        var texts = Text.Split(' ');
        var from = Place is SyllablePlace.Middle or SyllablePlace.End;
        var on = Place is SyllablePlace.Begin or SyllablePlace.Middle;
        return new Lyric
        {
            Number = number,
            Parts =
            [
                .. texts.Select((text, i) => new LyricPart(text, PlaceOf(from && i == 0, on && i == texts.Length - 1))
                {
                    Join = i == 0 ? LyricJoin.None : LyricJoin.Elision,
                    JoinSign = i == 0 ? null : " ",
                }),
            ],
            Extender = Notes > 1 ? Extender.Start : Extender.None,
            Stress = Stress,
            Late = Late,
        };

        static WordPlace PlaceOf(bool goesOnFrom, bool goesOn) => (goesOnFrom, goesOn) switch
        {
            (false, false) => WordPlace.Single,
            (false, true) => WordPlace.Begin,
            (true, true) => WordPlace.Middle,
            _ => WordPlace.End,
        };
    }
}

/// <summary>The position of a syllable in its word.</summary>
public enum SyllablePlace
{
    /// <summary>The only syllable.</summary>
    Single,

    /// <summary>The first syllable of several.</summary>
    Begin,

    /// <summary>A middle syllable.</summary>
    Middle,

    /// <summary>The last syllable of several.</summary>
    End,
}
