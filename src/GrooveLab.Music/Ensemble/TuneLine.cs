using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>A note of the tune as sung in one playing of its section.</summary>
/// <param name="Note">The sounding note.</param>
/// <param name="Graces">Written grace notes before it.</param>
/// <param name="Written">The note on paper: its place from the run's first bar line, its pitch as in the chart.</param>
internal readonly record struct TuneLineNote(LineNote Note, IReadOnlyList<Pitch> Graces, WrittenOrigin Written)
{
    /// <summary>How far it lays back after its written place, if that is written for this note; otherwise zero.</summary>
    public Span WantedLate { get; init; }

    /// <summary>How far it sounds into the next note, in microseconds.</summary>
    public int Overlap { get; init; }

    /// <summary>The time since the note before it in its line began; null for none.</summary>
    public Span? Ahead { get; init; }

    /// <summary>The number of its phrase: the same for all its notes.</summary>
    public int Phrase { get; init; }

    /// <summary>True when the next note of its line follows without a rest on the same key.</summary>
    public bool RepeatsNext { get; init; }

    /// <summary>True for the last note of a phrase whose end no mark shortens.</summary>
    public bool EndsPhrase { get; init; }

    /// <summary>How far it lays back after its written place.</summary>
    public Span Late => Written.Late;

    /// <summary>The syllable that starts on it, with a hyphen when the word continues; null for none, and always in a further line, whose
    /// words would collide with those of the tune.</summary>
    public string? Syllable => Written.Syllable is not { Note: 1, Syllable: var syllable } || Written.Tune is { Line: > 0 }
        ? null
        : syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? syllable.Text + "-" : syllable.Text;
}

/// <summary>The tune of one playing of a section, with the words of its verse, and the pickup into the section after it.</summary>
internal sealed class TuneLine
{
    public const int BaseVelocity = 78;

    /// <summary>The longest step of written time in which silences between notes are cut, in seconds.</summary>
    private static readonly Rational LongestStep = new(1, 100);

    private TuneLine(List<TuneLineNote> notes)
    {
        Notes = notes;
    }

    public static TuneLine Empty { get; } = new([]);

    public IReadOnlyList<TuneLineNote> Notes { get; }

    /// <summary>Creates a line of the tune of a run.</summary>
    /// <param name="outline">The run.</param>
    /// <param name="line">The line; 0 is the tune itself.</param>
    /// <param name="sings">True to play the run's own notes.</param>
    /// <param name="next">The lines of the next run for the same part, whose pickups sound in this run.</param>
    /// <param name="phrased">True to sing in phrases, false to play every note alike.</param>
    public static TuneLine For(RunOutline outline, int line, bool sings, IReadOnlyList<int> next, bool phrased)
    {
        var notes = new List<TuneLineNote>();
        if (sings && outline.Run.Section.Tune?.Voice(line) is not null)
        {
            Add(
                notes, outline.Run, line, phrased, Span.Zero, outline.TempoAt, note => note.Onset >= Span.Zero && note.Onset < outline.Length, outline.SinceLastNote(line));
            if (notes.Count > 0)
            {
                // When a loop jumps back inside a section, continuing notes are cut.
                notes[^1] = CutAt(notes[^1], outline.Length);
            }
        }

        var pickup = next
            .Select(other => outline.Next.Section.Tune?.Voice(other)?.PickupLength ?? Span.Zero)
            .DefaultIfEmpty(Span.Zero)
            .Aggregate(Span.Max);
        if (pickup > Span.Zero)
        {
            // The singer breathes before the pickup: notes still sounding there are cut.
            var start = Span.Max(Span.Zero, outline.Length - pickup);
            notes.RemoveAll(note => note.Note.Onset >= start);
            if (notes.Count > 0)
            {
                notes[^1] = CutAt(notes[^1], start);
            }

            if (next.Contains(line))
            {
                Add(
                    notes,
                    outline.Next,
                    line,
                    phrased,
                    outline.Length,
                    outline.TempoAt,
                    note => note.Onset < Span.Zero && outline.Length + note.Onset >= Span.Zero);
            }
        }

        return notes.Count == 0 ? Empty : new TuneLine(notes);
    }

    /// <summary>The line laid back: long enough notes on group starts come later, as do notes with written laying back, and they end
    /// later as far as the next note allows. Never on two consecutive bar group starts, so that the pulse stays clear, and not on more than
    /// about a third of the group starts, those with a consonant that can be held before others; no note is more than 250 ms late: by eighths of a unit
    /// (halves of them where those last longer), so that it can be written. Common practice, no source.</summary>
    public TuneLine LaidBack(RunOutline outline, LayBack by)
    {
        by = by == LayBack.Lean ? LayBack.None : by;
        if (Notes.Count == 0 || (by == LayBack.None && Notes.All(note => note.WantedLate == Span.Zero)))
        {
            return this;
        }

        var notes = new List<TuneLineNote>(Notes);
        var bar = 0;
        var lateStart = false;
        var (starts, lateNotes) = (0, 0);
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
            var wanted = notes[i].WantedLate > Span.Zero;
            var onStart = FeltLevel.Group.BeatsIn(place.Meter, place.GroupPlace).Contains(at);
            if (at >= place.Length || place.Stop == BandStop.Hold || (!wanted && !onStart))
            {
                continue;
            }

            starts += onStart ? 1 : 0;
            var opens = at == Span.Zero && place.GroupPlace.IsFirst;
            Span? following = i + 1 < notes.Count ? notes[i + 1].Note.Onset : null;
            delay = wanted ? Bounded(notes[i], following, place.TempoAt(at)) : InTime(delay, place.Meter.Unit, LayingBack.Longest(place.TempoAt(at)));

            // A pickup into the next section still begins in this one.
            var can = note.Onset + delay < outline.Length
                && (wanted ? delay > Span.Zero
                    : by != LayBack.None && delay > Span.Zero && note.Length >= delay * 2 && notes[i].Graces.Count == 0
                        && LateShare.Allows(lateNotes + (Consonants.Of(notes[i].Syllable) == Consonant.Held ? 0 : 1), starts));
            var late = can && !(opens && lateStart);
            lateStart = opens ? late : lateStart;
            if (late)
            {
                lateNotes++;
                notes[i] = Later(notes[i], delay, following);
            }
        }

        LetGoOn(notes);
        return new TuneLine(notes);
    }

    private static Span InTime(Span delay, Span unit, Span longest)
    {
        var step = unit / 8;
        while (step > longest)
        {
            step /= 2;
        }

        return delay <= longest ? delay : step * (int)(longest / step).Floor();
    }

    /// <summary>The pickup of a line before the very first bar line, placed from there.</summary>
    public static IReadOnlyList<TuneLineNote> PickupOf(SectionRun run, int line, Tempo tempo, bool phrased)
    {
        var notes = new List<TuneLineNote>();
        if (run.Section.Tune?.Voice(line) is { } voice)
        {
            Add(notes, run, line, phrased, Span.Zero, _ => tempo, note => note.Onset < Span.Zero);
            for (var i = 0; i < notes.Count; i++)
            {
                Span? following = i + 1 < voice.Notes.Count ? voice.Notes[i + 1].Onset : null;
                var delay = Bounded(notes[i], following, tempo);
                notes[i] = delay > Span.Zero ? Later(notes[i], delay, following) : notes[i];
            }

            LetGoOn(notes);
            Part(notes, _ => tempo, _ => Rational.One);
        }

        return notes;
    }

    /// <summary>The line in phrases: a short silence before a repeated note and at the end of a phrase, taken from the note before it, half
    /// of it at most. Notes that a mark has shortened keep their length.</summary>
    /// <param name="outline">The bars.</param>
    /// <param name="ratio">The swing of the piece: a silence before the beat is written longer, so that it lasts as long when the short note that it is
    /// taken from is played shorter.</param>
    public TuneLine Parted(RunOutline outline, Rational ratio)
    {
        if (Notes.Count == 0)
        {
            return this;
        }

        var notes = new List<TuneLineNote>(Notes);
        Part(notes, outline.TempoAt, at => Swung(outline, ratio, at));
        return new TuneLine(notes);
    }

    // Written time for played time just before a place.
    private static Rational Swung(RunOutline outline, Rational ratio, Span at)
    {
        var bar = outline.BarAt(at);
        var place = outline.Places[bar];
        var swing = Swing.Of(ratio, place.Meter, place.Tempo).Ratio;
        var cells = (at - outline.OnsetOf(bar)) / place.Meter.Unit;
        var inside = cells - new Rational(cells.Floor(), 1);
        var isInLong = inside > Rational.Zero && inside <= new Rational(1, 2);
        return (isInLong ? Rational.One + (Rational.One / swing) : Rational.One + swing) / 2;
    }

    /// <summary>The line next to another line of the same part: a key that both play together is struck once, by the other
    /// line.</summary>
    public TuneLine Beside(TuneLine other) => new(Beside(Notes, other.Notes));

    /// <summary>Notes next to others of the same part; see <see cref="Beside(TuneLine)"/>.</summary>
    public static List<TuneLineNote> Beside(IReadOnlyList<TuneLineNote> notes, IReadOnlyList<TuneLineNote> others)
    {
        var byKey = others.GroupBy(other => other.Note.Key)
            .ToDictionary(same => same.Key, same => new SoundingKeys([.. same.Select(other => other.Note).OrderBy(other => other.Onset)]));
        var left = new List<TuneLineNote>();
        foreach (var note in notes)
        {
            // In order of onset: the first of them decides.
            var sounding = byKey.TryGetValue(note.Note.Key, out var same)
                ? same.In(note.Note.Onset, note.Note.End).Cast<LineNote?>().FirstOrDefault()
                : null;
            if (sounding is not { } other)
            {
                left.Add(note);
            }
            else if (other.Onset > note.Note.Onset)
            {
                left.Add(CutAt(note, other.Onset));
            }
        }

        return left;
    }

    // At least half of the available time is left.
    private static Span Bounded(TuneLineNote note, Span? following, Tempo tempo)
    {
        var room = Span.Max(note.Note.End, following ?? note.Note.End) - note.Note.Onset;
        return Span.Min(note.WantedLate, Span.Min(LayingBack.Longest(tempo), room / 2));
    }

    private static TuneLineNote Later(TuneLineNote late, Span delay, Span? following)
    {
        var note = late.Note;
        var end = following is { } next ? Span.Max(note.End, Span.Min(note.End + delay, next)) : note.End;
        return late with
        {
            Note = note with { Onset = note.Onset + delay, Length = end - note.Onset - delay },
            Written = late.Written with { Late = delay },
        };
    }

    // The note before a laid-back note continues until then.
    private static void LetGoOn(List<TuneLineNote> notes)
    {
        for (var i = 0; i + 1 < notes.Count; i++)
        {
            var gap = notes[i + 1].Note.Onset - notes[i].Note.End;
            if (notes[i + 1].Late > Span.Zero && gap == notes[i + 1].Late && Consonants.Of(notes[i + 1].Syllable) != Consonant.Held)
            {
                notes[i] = notes[i] with { Note = notes[i].Note with { Length = notes[i].Note.Length + gap } };
            }
        }
    }

    private static void Part(List<TuneLineNote> notes, Func<Span, Tempo> tempoAt, Func<Span, Rational> writtenBefore)
    {
        for (var i = 0; i < notes.Count; i++)
        {
            var note = notes[i].Note;
            TuneLineNote? next = i + 1 < notes.Count ? notes[i + 1] : null;
            var tempo = tempoAt(note.Onset);
            var milliseconds = tempo.Seconds(note.Length).ToDouble() * 1000;
            var repeats = next is { } other && other.Note.Key == note.Key && other.Note.Onset - note.End < Lasting(TunePhrasing.RepeatGap(milliseconds), tempo);
            var written = writtenBefore(note.End);
            var end = notes[i].EndsPhrase ? note.End - (Lasting(TunePhrasing.EndGap(milliseconds, repeats || next is null), tempo) * written) : note.End;

            // The next note is in the next run.
            if (next is null && notes[i].RepeatsNext)
            {
                end = Span.Min(end, note.End - (Lasting(TunePhrasing.RepeatGap(milliseconds), tempo) * written));
            }

            // The consonant of a late vowel sounds on the beat, on the same key.
            if (repeats && next is { } again && again.Graces.Count == 0)
            {
                var from = Consonants.Of(again.Syllable) == Consonant.Held ? again.Note.Onset - again.Late : again.Note.Onset;
                end = Span.Min(end, from - (Lasting(TunePhrasing.RepeatGap(milliseconds), tempo) * writtenBefore(from)));
            }

            notes[i] = CutAt(notes[i], Span.Max(end, Span.Min(note.End, note.Onset + (note.Length / 2))));
        }
    }

    // Rounded up to 960ths of a whole note, so that lengths stay readable fractions; finer where one of them lasts long.
    private static Span Lasting(double milliseconds, Tempo tempo)
    {
        var parts = 960L;
        while (tempo.Seconds(Span.Of(1, parts)) > LongestStep)
        {
            parts *= 2;
        }

        return Span.Of((tempo.WholesPerMinute * (int)Math.Ceiling(milliseconds) / 60_000 * parts).Ceiling(), parts);
    }

    private static TuneLineNote CutAt(TuneLineNote note, Span at) =>
        note.Note.End > at ? note with { Note = note.Note with { Length = at - note.Note.Onset } } : note;

    private static void Add(
        List<TuneLineNote> to, SectionRun run, int line, bool phrased, Span from, Func<Span, Tempo> tempoAt, Func<TuneNote, bool> wanted, Span? since = null)
    {
        var voice = run.Section.Tune!.Voice(line);
        if (voice is null)
        {
            return;
        }

        var touch = new TuneTouch(voice);
        var verse = voice.Verses.Count == 0 ? 0 : run.Verse % voice.Verses.Count;
        var words = voice.Verses.Count == 0 ? [] : voice.Verses[verse];
        var ends = new TunePhrasing(run.Section, voice, words);
        var phrasing = phrased ? ends : null;
        var phrases = to.Count > 0 ? to[^1].Phrase + 1 : 0;
        SungSyllable? sung = null;
        for (var i = 0; i < voice.Notes.Count; i++)
        {
            sung = i < words.Count && words[i] is { } begins ? new SungSyllable(begins, 1, verse + 1)
                : sung is not null && sung.Note < sung.Syllable.Notes ? sung with { Note = sung.Note + 1 }
                : null;
            var note = voice.Notes[i];
            if (wanted(note))
            {
                var written = new WrittenOrigin
                {
                    Pitch = note.Pitch,
                    Onset = from + note.Onset,
                    Length = note.Length,
                    Syllable = sung,
                    Tune = new TuneOrigin(run.Section.Name, run.Verse, i, 0) { Line = line },
                };
                var length = touch.LengthOf(i, from, tempoAt);
                phrases += i > 0 && ends.EndsPhrase(i - 1) ? 1 : 0;
                var decibels = phrasing?.DecibelsOf(i, tempoAt(written.Onset)) ?? 0;
                var velocity = Loudness.Louder(BaseVelocity + touch.StepsOf(note), decibels);
                to.Add(new TuneLineNote(new LineNote(written.Onset, length, note.Pitch.Midi, velocity), note.Graces, written)
                {
                    Phrase = phrases,
                    RepeatsNext = i + 1 < voice.Notes.Count && voice.Notes[i + 1] is var after && after.Onset == note.Onset + note.Length && after.Pitch.Midi == note.Pitch.Midi,
                    EndsPhrase = phrasing is not null && phrasing.EndsPhrase(i) && length == note.Length,
                    Ahead = i > 0 ? note.Onset - voice.Notes[i - 1].Onset : to.Count > 0 ? written.Onset - to[^1].Written.Onset : since + note.Onset,
                    WantedLate = sung is { Note: 1, Syllable.Late: { } late } ? late : note.Late,
                    Overlap = touch.OverlapOf(i),
                });
            }
        }
    }
}
