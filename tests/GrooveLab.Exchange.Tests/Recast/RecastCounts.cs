using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>A note of a result: when it begins and ends, from the section's first bar line.</summary>
internal readonly record struct PlacedNote(Span Onset, Span End);

/// <summary>
/// What a song in another meter has kept and lost, counted from the notes of both charts, the nth beside the nth. It knows nothing of how the result was found.
/// Stressed and unstressed are the syllables that the source marks so.
/// </summary>
internal sealed record RecastCounts
{
    /// <summary>Notes that begin on beats one and three of the source.</summary>
    public int StrongBeats { get; init; }

    /// <summary>Those that begin on the same beats of the result.</summary>
    public int StrongBeatsKept { get; init; }

    /// <summary>Beats one and three over which a note of the source is held.</summary>
    public int HeldBeats { get; init; }

    /// <summary>Those over which the same note of the result is held; also those where it begins.</summary>
    public int HeldBeatsKept { get; init; }

    /// <summary>Notes that are missing, added, or of another pitch.</summary>
    public int NotesLost { get; init; }

    /// <summary>Syllables of all verses that are missing, or on another note.</summary>
    public int SyllablesLost { get; init; }

    /// <summary>Neighbouring intervals from onset to onset, one longer than the other, of which the other is longer in the result.</summary>
    public int ReversedFigures { get; init; }

    /// <summary>Neighbouring intervals from onset to onset, one longer than the other, which are equal in the result.</summary>
    public int EvenedFigures { get; init; }

    /// <summary>Unstressed syllables of all verses that have become longer than a stressed neighbour: their ratio has grown by more than 0.1 in log2.</summary>
    public int WeakLengthened { get; init; }

    /// <summary>Stressed syllables of all verses on a place of the result that is weaker than an unstressed neighbour's.</summary>
    public int StressedOnWeaker { get; init; }

    public static RecastCounts operator +(RecastCounts a, RecastCounts b) => new()
    {
        StrongBeats = a.StrongBeats + b.StrongBeats,
        StrongBeatsKept = a.StrongBeatsKept + b.StrongBeatsKept,
        HeldBeats = a.HeldBeats + b.HeldBeats,
        HeldBeatsKept = a.HeldBeatsKept + b.HeldBeatsKept,
        NotesLost = a.NotesLost + b.NotesLost,
        SyllablesLost = a.SyllablesLost + b.SyllablesLost,
        ReversedFigures = a.ReversedFigures + b.ReversedFigures,
        EvenedFigures = a.EvenedFigures + b.EvenedFigures,
        WeakLengthened = a.WeakLengthened + b.WeakLengthened,
        StressedOnWeaker = a.StressedOnWeaker + b.StressedOnWeaker,
    };

    /// <summary>Counts all lines of all sections that have a tune; sections of the same name belong together.</summary>
    /// <exception cref="ArgumentException">A section of the source is missing in the result, is not in 4/4 throughout, or has another number of bars than the rule says.</exception>
    public static RecastCounts Of(Chart source, Chart result, RecastRule rule)
    {
        var sum = new RecastCounts();
        foreach (var section in source.Sections.Where(section => section.Tune is not null))
        {
            var same = result.Sections.FirstOrDefault(other => other.Name == section.Name)
                ?? throw new ArgumentException($"'{section.Name}' is missing.", nameof(result));
            var layout = new RecastLayout(section, same, rule);
            for (var line = 0; section.Tune!.Voice(line) is { } voice; line++)
            {
                sum += same.Tune?.Voice(line) is { } other
                    ? Of(voice, [.. other.Notes.Select(note => new PlacedNote(note.Onset, note.Onset + note.Length))], layout) with
                    {
                        NotesLost = NotesLostIn(voice.Notes, other.Notes),
                        SyllablesLost = SyllablesLostIn(voice, other),
                    }
                    : new RecastCounts { NotesLost = voice.Notes.Count, SyllablesLost = voice.Verses.Sum(verse => verse.Count(syllable => syllable is not null)) };
            }
        }

        return sum;
    }

    /// <summary>Counts a line whose notes are placed so; notes without a counterpart are not counted.</summary>
    public static RecastCounts Of(TuneVoice voice, IReadOnlyList<PlacedNote> placed, RecastLayout layout)
    {
        var notes = voice.Notes.Take(placed.Count).ToList();
        var strong = notes.Select((note, i) => (Beat: layout.StrongBeat(note.Onset), placed[i].Onset)).Where(one => one.Beat is not null).ToList();
        var held = notes.SelectMany((note, i) => BeatsUnder(note).Select(beat => (Beat: layout.StrongBeat(beat)!.Value, Placed: placed[i]))).ToList();
        var counts = new RecastCounts
        {
            StrongBeats = strong.Count,
            StrongBeatsKept = strong.Count(one => one.Beat == one.Onset),
            HeldBeats = held.Count,
            HeldBeatsKept = held.Count(one => one.Placed.Onset <= one.Beat && one.Beat < one.Placed.End),
        };

        for (var i = 1; i + 1 < notes.Count; i++)
        {
            var before = (notes[i + 1].Onset - notes[i].Onset).CompareTo(notes[i].Onset - notes[i - 1].Onset);
            var after = (placed[i + 1].Onset - placed[i].Onset).CompareTo(placed[i].Onset - placed[i - 1].Onset);
            counts += new RecastCounts { ReversedFigures = before * after < 0 ? 1 : 0, EvenedFigures = before != 0 && after == 0 ? 1 : 0 };
        }

        return voice.Verses.Aggregate(counts, (sum, verse) => sum + Stresses(notes, verse, placed, layout));
    }

    // The beats one and three that a note begins before and ends after.
    private static IEnumerable<Span> BeatsUnder(TuneNote note)
    {
        var half = Span.Of(1, 2);
        for (var beat = half * ((note.Onset / half).Floor() + 1); beat < note.Onset + note.Length; beat += half)
        {
            yield return beat;
        }
    }

    private static RecastCounts Stresses(List<TuneNote> notes, IReadOnlyList<Syllable?> verse, IReadOnlyList<PlacedNote> placed, RecastLayout layout)
    {
        var sung = Enumerable.Range(0, notes.Count).Where(i => verse[i] is not null).ToList();
        var lengthened = new HashSet<int>();
        var onWeaker = new HashSet<int>();
        for (var k = 1; k < sung.Count; k++)
        {
            var (one, two) = (sung[k - 1], sung[k]);
            if (one + verse[one]!.Notes == two && (verse[one]!.Stress, verse[two]!.Stress) is (Stress.Strong, Stress.Weak) or (Stress.Weak, Stress.Strong))
            {
                var (stressed, weak) = verse[one]!.Stress == Stress.Strong ? (one, two) : (two, one);
                var before = Math.Log2((Length(weak, Source) / Length(stressed, Source)).ToDouble());
                var after = Math.Log2((Length(weak, i => placed[i]) / Length(stressed, i => placed[i])).ToDouble());
                if (after > 0 && after - before > 0.1)
                {
                    lengthened.Add(weak);
                }

                if (layout.WeightAt(placed[stressed].Onset) < layout.WeightAt(placed[weak].Onset))
                {
                    onWeaker.Add(stressed);
                }
            }
        }

        return new RecastCounts { WeakLengthened = lengthened.Count, StressedOnWeaker = onWeaker.Count };

        PlacedNote Source(int i) => new(notes[i].Onset, notes[i].Onset + notes[i].Length);

        // To the next note that does not continue the syllable.
        Span Length(int i, Func<int, PlacedNote> place)
        {
            var next = i + verse[i]!.Notes;
            return (next < notes.Count ? place(next).Onset : place(notes.Count - 1).End) - place(i).Onset;
        }
    }

    private static int NotesLostIn(IReadOnlyList<TuneNote> source, IReadOnlyList<TuneNote> result) =>
        Math.Abs(source.Count - result.Count)
        + source.Zip(result).Count(pair => pair.First.Pitch != pair.Second.Pitch || !pair.First.Graces.SequenceEqual(pair.Second.Graces));

    private static int SyllablesLostIn(TuneVoice source, TuneVoice result) => source.Verses.Select((verse, v) => verse.Where((syllable, i) =>
        syllable is not null && (v >= result.Verses.Count || i >= result.Verses[v].Count || !Same(syllable, result.Verses[v][i]))).Count()).Sum();

    private static bool Same(Syllable one, Syllable? two) => two is not null && (one.Text, one.Place, one.Notes) == (two.Text, two.Place, two.Notes);
}
