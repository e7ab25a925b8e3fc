using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A written note head of a sounding note.</summary>
/// <param name="Played">Index in the playing order.</param>
/// <param name="Measure">Index of the measure in the grid.</param>
/// <param name="Voice">Index of the voice in the part's measure.</param>
/// <param name="Event">Index of the event in the voice.</param>
/// <param name="Head">Index of the head in the event.</param>
public readonly record struct NoteSource(int Played, int Measure, int Voice, int Event, int Head);

/// <summary>A grace note before or after a sounding note.</summary>
/// <param name="Event">The grace note, or a chord of them.</param>
/// <param name="Source">Its place in the score; its head is 0.</param>
public readonly record struct SoundingGrace(NotesEvent Event, NoteSource Source);

/// <summary>A sounding note: tied notes are one. Its length is the written one, not shortened for staccato.</summary>
public sealed record SoundingNote
{
    /// <summary>Its onset, from the start of the first measure played.</summary>
    public required Span Onset { get; init; }

    /// <summary>Its length, including ties.</summary>
    public required Span Length { get; init; }

    /// <summary>Its end.</summary>
    public Span End => Onset + Length;

    /// <summary>The first head.</summary>
    public required WrittenNote Note { get; init; }

    /// <summary>The pitch that sounds: the written one, moved by the part's transposition; null for an unpitched note.</summary>
    public SpelledPitch? Pitch { get; init; }

    /// <summary>The event of the first head: its words, marks and laying back.</summary>
    public required NotesEvent Event { get; init; }

    /// <summary>The name of the voice of the first head.</summary>
    public required string Voice { get; init; }

    /// <summary>The measure of the first head in the playing order.</summary>
    public required PlayedMeasure Played { get; init; }

    /// <summary>All tied heads, in order; at least one.</summary>
    public required ValueList<NoteSource> Sources { get; init; }

    /// <summary>Grace notes that lead to it; in a chord only the first head has them.</summary>
    public ValueList<SoundingGrace> GracesBefore { get; init; } = [];

    /// <summary>Grace notes that end it; in a chord only the first head has them.</summary>
    public ValueList<SoundingGrace> GracesAfter { get; init; } = [];
}

/// <summary>Derives sounding notes from voices.</summary>
public static class SoundingNotes
{
    /// <summary>All measures once, as written.</summary>
    public static IReadOnlyList<PlayedMeasure> AsWritten(WrittenMusic music) =>
        [.. Enumerable.Range(0, music.Measures.Count).Select(index => new PlayedMeasure(index, 1, 1))];

    /// <summary>The notes of a part, by onset, then by voice and head. Ties join across bar lines, across voices, and across jumps in the
    /// playing order: when one note starts a tie and the next of the same pitch ends one exactly where the first ends. A tie without such
    /// a note does not extend its note. Excludes cue notes and notes of other passes.</summary>
    /// <param name="music">The score.</param>
    /// <param name="part">Index of the part.</param>
    /// <param name="order">The measures in playing order; null for as written.</param>
    /// <remarks>A measure without a meter or own length lasts as long as its longest voice.</remarks>
    public static IReadOnlyList<SoundingNote> OfPart(WrittenMusic music, int part, IReadOnlyList<PlayedMeasure>? order = null)
    {
        var reader = new Reader(music.Parts[part]);
        var start = Span.Zero;
        var played = order ?? AsWritten(music);
        for (var i = 0; i < played.Count; i++)
        {
            reader.Take(i, played[i], start);
            start += music.LengthOf(played[i].Measure) ?? Longest(music, played[i].Measure);
        }

        return reader.Finish();
    }

    /// <summary>The notes of one voice of a part; see <see cref="OfPart"/>. A note tied over from another voice belongs to that
    /// voice.</summary>
    /// <param name="music">The score.</param>
    /// <param name="part">Index of the part.</param>
    /// <param name="voice">The voice's name.</param>
    /// <param name="order">The measures in playing order; null for as written.</param>
    public static IReadOnlyList<SoundingNote> OfVoice(
        WrittenMusic music, int part, string voice, IReadOnlyList<PlayedMeasure>? order = null) =>
        [.. OfPart(music, part, order).Where(note => note.Voice == voice)];

    private static Span Longest(WrittenMusic music, int measure)
    {
        var longest = Span.Zero;
        foreach (var voice in music.Parts.SelectMany(part => part.Measures[measure].Voices))
        {
            longest = Span.Max(longest, voice.Length);
        }

        return longest;
    }

    private sealed class Building(SoundingNote note)
    {
        public SoundingNote Note { get; set; } = note;

        public List<NoteSource> Sources { get; } = [.. note.Sources];

        public Span End { get; set; } = note.End;

        // The last head joined so far.
        public WrittenNote Head { get; set; } = note.Note;

        public SoundingNote Made() => Note with { Length = End - Note.Onset, Sources = [.. Sources] };
    }

    private readonly record struct Step(Span Onset, int Voice, string Name, int Event, NotesEvent Notes, ValueList<SoundingGrace> Before);

    private sealed class Reader(WrittenPart part)
    {
        private readonly List<Building> _notes = [];
        private readonly List<Building> _open = [];
        private readonly PartTransposition _transposition = new(part);

        public void Take(int played, PlayedMeasure place, Span start)
        {
            var measure = part.Measures[place.Measure];
            var steps = new List<Step>();
            var after = new Dictionary<(int Voice, int Event), List<SoundingGrace>>();
            for (var v = 0; v < measure.Voices.Count; v++)
            {
                Collect(measure.Voices[v], v, played, place, start, steps, after);
            }

            // Voices are simultaneous; ties can go from one to another.
            foreach (var step in steps.OrderBy(step => step.Onset).ThenBy(step => step.Voice))
            {
                Sound(step, played, place, step.Onset - start, after.GetValueOrDefault((step.Voice, step.Event)) ?? []);
            }
        }

        public IReadOnlyList<SoundingNote> Finish() => [.. _notes.Select(note => note.Made())];

        private static void Collect(
            VoiceMeasure voice,
            int index,
            int played,
            PlayedMeasure place,
            Span start,
            List<Step> steps,
            Dictionary<(int Voice, int Event), List<SoundingGrace>> after)
        {
            var at = start;
            var graces = new List<SoundingGrace>();
            var last = -1;
            for (var i = 0; i < voice.Events.Count; i++)
            {
                if (voice.Events[i] is NotesEvent { IsCue: false } notes)
                {
                    if (notes.Grace is { } grace)
                    {
                        var sounding = new SoundingGrace(notes, new NoteSource(played, place.Measure, index, i, 0));
                        if (grace.IsAfter && last >= 0)
                        {
                            after.TryAdd((index, last), []);
                            after[(index, last)].Add(sounding);
                        }
                        else
                        {
                            graces.Add(sounding);
                        }
                    }
                    else
                    {
                        steps.Add(new Step(at, index, voice.Name, i, notes, [.. graces]));
                        graces.Clear();
                        last = i;
                    }
                }

                at += voice.Events[i].Length;
            }
        }

        private void Sound(Step step, int played, PlayedMeasure place, Span at, IReadOnlyList<SoundingGrace> after)
        {
            _open.RemoveAll(open => open.End < step.Onset);
            var first = true;
            for (var h = 0; h < step.Notes.Notes.Count; h++)
            {
                var head = step.Notes.Notes[h];
                if (head.Passes.Count > 0 && !head.Passes.Contains(place.Pass))
                {
                    continue;
                }

                var source = new NoteSource(played, place.Measure, step.Voice, step.Event, h);
                var from = IsTied(head.TiedFrom, place) && step.Before.Count == 0 ? Tied(head, step) : null;
                if (from is not null)
                {
                    from.Sources.Add(source);
                    from.End = step.Onset + step.Notes.Length;
                    from.Head = head;
                    if (first && after.Count > 0)
                    {
                        from.Note = from.Note with { GracesAfter = [.. from.Note.GracesAfter, .. after] };
                    }

                    if (!IsTied(head.TiedTo, place))
                    {
                        _open.Remove(from);
                    }
                }
                else
                {
                    var made = new Building(new SoundingNote
                    {
                        Onset = step.Onset,
                        Length = step.Notes.Length,
                        Note = head,
                        Pitch = _transposition.Sounding(head, place.Measure, at),
                        Event = step.Notes,
                        Voice = step.Name,
                        Played = place,
                        Sources = [source],
                        GracesBefore = first ? step.Before : [],
                        GracesAfter = first ? [.. after] : [],
                    });
                    _notes.Add(made);
                    if (IsTied(head.TiedTo, place))
                    {
                        _open.Add(made);
                    }
                }

                first = false;
            }
        }

        private static bool IsTied(TieEnd? end, PlayedMeasure place) =>
            end is not null && (end.Passes.Count == 0 || end.Passes.Contains(place.Pass));

        // Its own voice first; also the same sound respelled, if the spelling changes within the tie.
        private Building? Tied(WrittenNote head, Step step)
        {
            Building? best = null;
            var rank = 0;
            foreach (var open in _open)
            {
                var same = open.Head.IsSameAs(head);
                var sounds = same || (head.Pitch is { } pitch && open.Head.Pitch?.Sound == pitch.Sound);
                if (open.End == step.Onset && sounds)
                {
                    var ranked = 1 + (same ? 2 : 0) + (open.Note.Voice == step.Name ? 1 : 0);
                    (best, rank) = ranked > rank ? (open, ranked) : (best, rank);
                }
            }

            return best;
        }
    }
}
