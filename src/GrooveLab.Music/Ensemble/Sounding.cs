using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>
/// Notes in order of onset that others must keep clear of: what the tune sings, what the bass and the sustain hold.
/// </summary>
internal sealed class Sounding
{
    private readonly IReadOnlyList<LineNote> _notes;
    private readonly Span _longest;

    public Sounding(IReadOnlyList<LineNote> notes)
    {
        _notes = notes;
        foreach (var note in notes)
        {
            _longest = Span.Max(_longest, note.Length);
        }
    }

    public static Sounding Nothing { get; } = new([]);

    /// <summary>The keys that sound at some time from one place up to, not including, another.</summary>
    public IEnumerable<int> KeysIn(Span from, Span to)
    {
        for (var i = FirstNotBefore(from - _longest); i < _notes.Count && _notes[i].Onset < to; i++)
        {
            if (_notes[i].End > from)
            {
                yield return _notes[i].Key;
            }
        }
    }

    private int FirstNotBefore(Span at)
    {
        var low = 0;
        var high = _notes.Count;
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (_notes[middle].Onset < at)
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        return low;
    }
}
