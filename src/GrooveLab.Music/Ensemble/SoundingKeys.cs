using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The keys that sound over time in one playing of a section, so that other parts can keep clear of them: those of the tune, of
/// the bass and of the sustain.</summary>
internal sealed class SoundingKeys
{
    private readonly LineNote[] _notes;
    private readonly Span _longest;

    /// <summary>Creates it from notes in order of onset.</summary>
    public SoundingKeys(LineNote[] notes)
    {
        _notes = notes;
        foreach (var note in notes)
        {
            _longest = Span.Max(_longest, note.Length);
        }
    }

    /// <summary>The keys that sound at any time from one place to another, exclusive.</summary>
    public KeySet KeysIn(Span from, Span to)
    {
        var keys = KeySet.None;
        foreach (ref readonly var note in Near(from, to))
        {
            if (note.End > from)
            {
                keys = keys.With(note.Key);
            }
        }

        return keys;
    }

    /// <summary>The notes that sound at any time from one place to another, exclusive, in order of onset. Some of them
    /// may have ended before.</summary>
    public ReadOnlySpan<LineNote> Near(Span from, Span to)
    {
        var first = FirstNotBefore(from - _longest);
        return _notes.AsSpan(first, Math.Max(0, FirstNotBefore(to) - first));
    }

    /// <summary>The notes that sound at any time from one place to another, exclusive, in order of onset.</summary>
    public IEnumerable<LineNote> In(Span from, Span to)
    {
        for (var i = FirstNotBefore(from - _longest); i < _notes.Length && _notes[i].Onset < to; i++)
        {
            if (_notes[i].End > from)
            {
                yield return _notes[i];
            }
        }
    }

    /// <summary>The last note that starts at a place or before; null for none.</summary>
    public LineNote? LastAt(Span at)
    {
        var i = FirstNotBefore(at);
        while (i < _notes.Length && _notes[i].Onset == at)
        {
            i++;
        }

        return i > 0 ? _notes[i - 1] : null;
    }

    private int FirstNotBefore(Span at)
    {
        var low = 0;
        var high = _notes.Length;
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
