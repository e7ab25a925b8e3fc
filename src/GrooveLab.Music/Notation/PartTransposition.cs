using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>What a part sounds like: its written pitches, keys and chord symbols moved by its transpositions. Pure. An octave line does not
/// count: the pitches under it are written as they sound.</summary>
/// <remarks>Source: MusicXML 4.0, element transpose: written pitch plus diatonic, chromatic and octave-change is the sounding pitch.</remarks>
public sealed class PartTransposition
{
    private readonly List<(int Measure, Transposition Change)> _changes = [];

    /// <summary>Finds the transpositions of a part.</summary>
    /// <param name="part">The part.</param>
    public PartTransposition(WrittenPart part)
    {
        for (var i = 0; i < part.Measures.Count; i++)
        {
            foreach (var change in part.Measures[i].Transpositions)
            {
                _changes.Add((i, change));
            }
        }
    }

    /// <summary>True when the part sounds as written throughout.</summary>
    public bool IsNone => _changes.Count == 0;

    /// <summary>The interval from written to sounding; null for none, or for a fraction of a semitone. A doubled octave is not
    /// included.</summary>
    public static Interval? IntervalOf(Transposition transposition)
    {
        var octaves = transposition.Octaves ?? 0;
        if (!transposition.Chromatic.IsInteger)
        {
            return null;
        }

        var semitones = (int)transposition.Chromatic.Numerator;
        var steps = transposition.Diatonic ?? StepsOf(semitones);
        return new Interval(steps + (7 * octaves), semitones + (12 * octaves));
    }

    /// <summary>The interval from written to sounding at a place; null for none.</summary>
    /// <param name="measure">Index of the measure.</param>
    /// <param name="at">Distance from its start.</param>
    /// <param name="staff">The staff, from 1; null for any.</param>
    public Interval? At(int measure, Span at, int? staff = null)
    {
        var (low, high) = (0, _changes.Count);
        while (low < high)
        {
            var middle = (low + high) / 2;
            if (_changes[middle].Measure < measure || (_changes[middle].Measure == measure && _changes[middle].Change.At <= at))
            {
                low = middle + 1;
            }
            else
            {
                high = middle;
            }
        }

        for (var i = low - 1; i >= 0; i--)
        {
            if (_changes[i].Change.Staff is not { } only || staff is null || only == staff)
            {
                return IntervalOf(_changes[i].Change);
            }
        }

        return null;
    }

    /// <summary>The pitch that sounds for a note.</summary>
    /// <param name="note">The note as written.</param>
    /// <param name="measure">Index of the measure.</param>
    /// <param name="at">Distance from its start.</param>
    /// <returns>Null for an unpitched note.</returns>
    public SpelledPitch? Sounding(WrittenNote note, int measure, Span at) =>
        note.Pitch is { } pitch && At(measure, at, note.Staff) is { } interval ? pitch.Transpose(interval) : note.Pitch;

    /// <summary>The key that sounds for a written one.</summary>
    /// <param name="key">The key as written in the part.</param>
    /// <param name="measure">Index of the measure.</param>
    /// <param name="at">Distance from its start.</param>
    public WrittenKey Sounding(WrittenKey key, int measure, Span at)
    {
        if (key.Fifths is not { } fifths || At(measure, at) is not { } interval)
        {
            return key;
        }

        // Going up a fifth adds a sharp; the interval's steps and semitones say how many fifths it is.
        var moved = fifths + (7 * interval.Semitones) - (12 * interval.Steps);
        return Math.Abs(moved) <= 14 ? new WrittenKey(moved, key.Mode) { IsHidden = key.IsHidden } : key;
    }

    // The usual spelling of so many semitones: a second for 1 and 2, a tritone as a fourth.
    private static int StepsOf(int semitones)
    {
        int[] steps = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
        var sign = Math.Sign(semitones);
        var size = Math.Abs(semitones);
        return sign * ((size / 12 * 7) + steps[size % 12]);
    }
}
