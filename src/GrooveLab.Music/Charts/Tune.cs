using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>
/// The melody of a section with its words, and further lines beside it: written music, and a view of it as plain rows of notes. The first part is
/// the melody; every other part is a line of its own. A first measure that is not counted is the pickup.
/// </summary>
/// <remarks>Its measures have their lengths and no meters: the section's bars say those.</remarks>
public sealed record Tune
{
    /// <summary>Makes a tune from written music.</summary>
    /// <param name="written">At least one part; each with one voice.</param>
    /// <exception cref="ArgumentException">There is no part.</exception>
    public Tune(WrittenMusic written)
    {
        if (written.Parts.Count == 0)
        {
            throw new ArgumentException("A tune has at least one part.", nameof(written));
        }

        Written = written;
        Melody = TuneVoice.Of(written, 0);
        Lines = [.. Enumerable.Range(1, written.Parts.Count - 1).Select(part => TuneVoice.Of(written, part))];
        PickupLength = Lines.Prepend(Melody).Select(voice => voice.PickupLength).Aggregate(Span.Max);
    }

    /// <summary>The music as it is written.</summary>
    public WrittenMusic Written { get; }

    /// <summary>The melody.</summary>
    public TuneVoice Melody { get; }

    /// <summary>The further lines, such as a second voice; usually none.</summary>
    public IReadOnlyList<TuneVoice> Lines { get; }

    /// <summary>The melody's notes in order of onset; one at a time. Those of the pickup have negative onsets.</summary>
    public IReadOnlyList<TuneNote> Notes => Melody.Notes;

    /// <summary>The melody's verses; each has a syllable or null for every note.</summary>
    public IReadOnlyList<IReadOnlyList<Syllable?>> Verses => Melody.Verses;

    /// <summary>How long before the section's first bar line the first of its notes starts, of any line; zero without a pickup.</summary>
    public Span PickupLength { get; }

    /// <summary>The melody, line 0, or a further line from 1; null when there is no such line.</summary>
    public TuneVoice? Voice(int line) => line == 0 ? Melody : line <= Lines.Count ? Lines[line - 1] : null;

    /// <summary>Makes a tune from plain notes: ties over the bar lines and rests in the gaps are written for them.</summary>
    /// <param name="notes">The notes, in order of onset, one at a time; those before the first bar line have negative onsets.</param>
    /// <param name="verses">The verses; each has a syllable or null for every note.</param>
    /// <param name="bars">How long each bar of the section is. Notes beyond them make one more measure.</param>
    public static Tune Of(IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<Span> bars) =>
        new TuneBuilder(bars).Add("tune", TuneBuilder.Measures(notes, bars), verses).Made();

    /// <summary>Makes a tune from plain notes for the bars of a section, as the other overload does from their lengths.</summary>
    public static Tune Of(IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<ChartBar> bars) =>
        Of(notes, verses, [.. bars.Select(bar => bar.Meter.Length)]);

    /// <summary>The tune with every pitch moved by an interval.</summary>
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

    /// <summary>Equality of what is written.</summary>
    public bool Equals(Tune? other) => other is not null && Written.Equals(other.Written);

    /// <inheritdoc/>
    public override int GetHashCode() => Written.GetHashCode();
}

/// <summary>A line of a tune as a plain row of notes with its words. Derived from what is written.</summary>
public sealed record TuneVoice
{
    private TuneVoice(string name, IReadOnlyList<TuneNote> notes, IReadOnlyList<IReadOnlyList<Syllable?>> verses, IReadOnlyList<TuneDynamic> dynamics)
    {
        Name = name;
        Notes = notes;
        Verses = verses;
        Dynamics = dynamics;
    }

    /// <summary>What the line is called.</summary>
    public string Name { get; }

    /// <summary>Its notes in order of onset; one at a time. Those of the pickup have negative onsets.</summary>
    public IReadOnlyList<TuneNote> Notes { get; }

    /// <summary>Its verses; each has a syllable or null for every note.</summary>
    public IReadOnlyList<IReadOnlyList<Syllable?>> Verses { get; }

    /// <summary>How long before the section's first bar line it starts; zero without a pickup.</summary>
    public Span PickupLength => Notes.Count > 0 && Notes[0].Onset < Span.Zero ? -Notes[0].Onset : Span.Zero;

    /// <summary>Its dynamics and the ends of its hairpins, in order.</summary>
    public IReadOnlyList<TuneDynamic> Dynamics { get; }

    internal static TuneVoice Of(WrittenMusic written, int part)
    {
        var pickup = written.Measures.Count > 0 && written.Measures[0].IsUncounted ? written.LengthOf(0) ?? Span.Zero : Span.Zero;
        var ours = written.Parts[part];
        var voice = ours.VoiceNames.FirstOrDefault() ?? "1";

        // Of a chord the highest is the melody.
        var sounding = SoundingNotes.OfVoice(written, part, voice)
            .Where(note => note.Note.Pitch is not null)
            .GroupBy(note => note.Onset)
            .Select(together => together.MaxBy(note => note.Note.Pitch!.Value.Sound)!)
            .ToList();
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

/// <summary>A dynamic, or an end of a hairpin, of a tune.</summary>
/// <param name="Onset">From the section's first bar line.</param>
/// <param name="Mark">What is written.</param>
public sealed record TuneDynamic(Span Onset, Mark Mark);

/// <summary>A note of a tune. Tied notes are one note.</summary>
/// <param name="Onset">From the section's first bar line; negative in the pickup.</param>
/// <param name="Length">How long it sounds, ties included.</param>
/// <param name="Pitch">What it sounds.</param>
/// <param name="Graces">Grace notes before it, in order; usually none.</param>
public sealed record TuneNote(Span Onset, Span Length, Pitch Pitch, IReadOnlyList<Pitch> Graces)
{
    /// <summary>The marks on all that is written for it; usually none.</summary>
    public ValueList<Mark> Marks { get; init; } = [];

    /// <summary>How far it is meant to come after its place, in all verses; zero for in time.</summary>
    public Span Late { get; init; }

    /// <summary>True when a mark of the kind stands on it.</summary>
    public bool Has(MarkKind kind) => Marks.Any(mark => mark.Kind == kind);
}

/// <summary>What is sung on a note.</summary>
/// <param name="Text">The syllable without its hyphen.</param>
/// <param name="Place">Where it stands in its word.</param>
/// <param name="Notes">Notes it is sung on: one, or more in a melisma.</param>
public sealed record Syllable(string Text, SyllablePlace Place, int Notes)
{
    /// <summary>How strongly it is stressed.</summary>
    public Stress Stress { get; init; }

    /// <summary>How far it is meant to come after its note's place; null to do as the note does.</summary>
    public Span? Late { get; init; }

    /// <summary>The syllable of what is written, sung on one note: parts that share the note stand with a blank between them.</summary>
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

    /// <summary>The same as it is written on its first note.</summary>
    internal Lyric Written(string number)
    {
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

/// <summary>Where a syllable stands in its word.</summary>
public enum SyllablePlace
{
    /// <summary>A word of one syllable.</summary>
    Single,

    /// <summary>The first of several.</summary>
    Begin,

    /// <summary>Neither first nor last.</summary>
    Middle,

    /// <summary>The last of several.</summary>
    End,
}
