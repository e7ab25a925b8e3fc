using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>
/// Which keys sound when in one playing of a section, so that others can keep clear of them: what the tune sings, what the bass and the sustain
/// hold.
/// </summary>
internal sealed class SoundingKeys
{
    private readonly IReadOnlyList<LineNote> _notes;
    private readonly Span _longest;

    /// <summary>Of notes in order of onset.</summary>
    public SoundingKeys(IReadOnlyList<LineNote> notes)
    {
        _notes = notes;
        foreach (var note in notes)
        {
            _longest = Span.Max(_longest, note.Length);
        }
    }

    /// <summary>The keys that sound at some time from one place up to, not including, another.</summary>
    public IEnumerable<int> KeysIn(Span from, Span to) => In(from, to).Select(note => note.Key);

    /// <summary>The notes that sound at some time from one place up to, not including, another; in order of onset.</summary>
    public IEnumerable<LineNote> In(Span from, Span to)
    {
        for (var i = FirstNotBefore(from - _longest); i < _notes.Count && _notes[i].Onset < to; i++)
        {
            if (_notes[i].End > from)
            {
                yield return _notes[i];
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
