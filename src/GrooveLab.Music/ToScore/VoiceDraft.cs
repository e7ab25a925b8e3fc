using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>The chords of one voice that sound in a measure, in order and without overlaps.</summary>
internal sealed class VoiceDraft(int line, int staff)
{
    public int Line { get; } = line;

    /// <summary>The staff, from 0 for the upper.</summary>
    public int Staff { get; } = staff;

    public List<ScoredChord> Items { get; private set; } = [];

    public Span End => Items.Count == 0 ? Span.Zero : Items[^1].End;

    /// <summary>The mean of its keys.</summary>
    public double Height => Items.Average(item => item.First.Played.Key);

    public void Add(ScoredChord chord) => Items.Add(chord);

    /// <summary>True when the other voice begins and ends its notes with those of this one and has no words or marks of its own.</summary>
    public bool MovesWith(VoiceDraft other)
    {
        if (other.Items.Count != Items.Count)
        {
            return false;
        }

        for (var i = 0; i < Items.Count; i++)
        {
            if (Items[i].Onset != other.Items[i].Onset || Items[i].End != other.Items[i].End || !other.Items[i].Notes.TrueForAll(IsPlain))
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Makes chords of the notes of both.</summary>
    public void Merge(VoiceDraft other)
    {
        var merged = new List<ScoredChord>(Items.Count);
        for (var i = 0; i < Items.Count; i++)
        {
            var notes = new List<ScoredNote>(Items[i].Notes);
            foreach (var note in other.Items[i].Notes)
            {
                var at = notes.FindIndex(one => one.Played.Key > note.Played.Key);
                notes.Insert(at < 0 ? notes.Count : at, note);
            }

            merged.Add(new ScoredChord(notes));
        }

        Items = merged;
    }

    private static bool IsPlain(ScoredNote note) => note.Graces.Count == 0 && note.Lyric is null && note.Tune is not { Marks.Count: > 0 };
}
