using System.Collections.Immutable;

namespace GrooveLab.Music.Harmony;

/// <summary>A note on a string.</summary>
/// <param name="String">The string's index in the tuning, 0 for the first (usually the lowest).</param>
/// <param name="Fret">The fret, 0 for the open string.</param>
/// <param name="Pitch">The sounding MIDI number.</param>
public readonly record struct StringNote(int String, int Fret, int Pitch);

/// <summary>A chord fingering: at most one note per string, strings in tuning order.</summary>
/// <param name="Notes">The notes in the order of their strings.</param>
public sealed record StringFingering(ImmutableArray<StringNote> Notes)
{
    private int[]? _pitches;

    /// <summary>The MIDI numbers in the order of the strings.</summary>
    public IReadOnlyList<int> Pitches => _pitches ??= [.. Notes.Select(note => note.Pitch)];

    /// <summary>The lowest fret that a finger stops; 0 when all strings are open.</summary>
    public int LowestFret => Notes.Where(note => note.Fret > 0).Select(note => note.Fret).DefaultIfEmpty(0).Min();

    /// <summary>Number of frets the hand covers: 1 when all fingers are at one fret, 0 when all strings are open.</summary>
    public int Stretch => LowestFret == 0 ? 0 : Notes.Max(note => note.Fret) - LowestFret + 1;

    /// <summary>Whether two fingerings stop the same frets on the same strings.</summary>
    public bool Equals(StringFingering? other) => other is not null && Notes.AsSpan().SequenceEqual(other.Notes.AsSpan());

    /// <inheritdoc/>
    public override int GetHashCode()
    {
        var hash = new HashCode();
        foreach (var note in Notes)
            hash.Add(note);
        return hash.ToHashCode();
    }

    /// <summary>String and fret of each note, "1:3 2:2 3:0", strings numbered from 1 in tuning order.</summary>
    public override string ToString() => string.Join(' ', Notes.Select(note => $"{note.String + 1}:{note.Fret}"));
}

/// <summary>Chord fingerings for fretted strings.</summary>
public static class StringVoicings
{
    private const int Fingers = 4;

    /// <summary>All legal fingerings of a chord: one note per string, at most one muted string between sounding ones, stopped frets
    /// within the stretch, four fingers (the first may bar the lowest fret if no open string is under it), no pitch on two strings, the
    /// low-interval limit, and the tones that the chord needs as in <see cref="Voicings.Enumerate"/>. Ordered by string, open before
    /// stopped, low frets before high; always the same order.</summary>
    /// <param name="openStrings">MIDI numbers of the open strings, at most 12, in the instrument's order.</param>
    /// <param name="frets">The highest fret.</param>
    /// <param name="tones">The chord's tones. None (N.C.) gives no fingerings.</param>
    /// <param name="maxStretch">Number of frets the hand covers, including first and last; open strings do not count.</param>
    /// <param name="minVoices">Minimum number of notes, at least 1.</param>
    /// <param name="maxVoices">Maximum number of notes.</param>
    /// <param name="dropRoot">True when the root may be left to the bass. A power chord keeps it.</param>
    /// <param name="lowIntervalLimit">MIDI number below which notes are at least a fourth apart; 0 disables the rule.</param>
    /// <param name="limit">Maximum number of fingerings; the search stops there.</param>
    /// <exception cref="ArgumentOutOfRangeException">A number is out of its range.</exception>
    public static IReadOnlyList<StringFingering> Enumerate(
        IReadOnlyList<int> openStrings,
        int frets,
        ChordTones tones,
        int maxStretch = 5,
        int minVoices = 3,
        int maxVoices = 4,
        bool dropRoot = false,
        int lowIntervalLimit = Voicings.LowIntervalLimit,
        int limit = 4096)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(openStrings.Count, 12);
        ArgumentOutOfRangeException.ThrowIfNegative(frets);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(frets, 48);
        ArgumentOutOfRangeException.ThrowIfLessThan(maxStretch, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(minVoices, 1);
        ArgumentOutOfRangeException.ThrowIfLessThan(maxVoices, minVoices);
        ArgumentOutOfRangeException.ThrowIfLessThan(limit, 1);
        var found = new List<StringFingering>();
        if (tones.Count == 0 || openStrings.Count < minVoices)
            return found;
        var needs = new ChordNeeds(tones, dropRoot);
        var search = new Search(openStrings, frets, needs, maxStretch, minVoices, Math.Min(maxVoices, openStrings.Count), lowIntervalLimit, limit, found);
        search.Run();
        return found;
    }

    /// <summary>True when a hand can hold these notes: one finger per stopped note, or a bar at the lowest fret; four fingers in
    /// all.</summary>
    /// <param name="notes">The notes in the order of their strings; muted strings are absent.</param>
    public static bool IsHoldable(ReadOnlySpan<StringNote> notes)
    {
        var lowest = int.MaxValue;
        var stopped = 0;
        foreach (var note in notes)
        {
            if (note.Fret == 0)
                continue;
            stopped++;
            lowest = Math.Min(lowest, note.Fret);
        }

        if (stopped <= Fingers)
            return true;
        int first = -1, last = -1, atLowest = 0;
        for (var i = 0; i < notes.Length; i++)
        {
            if (notes[i].Fret != lowest)
                continue;
            first = first < 0 ? i : first;
            last = i;
            atLowest++;
        }

        for (var i = first; i <= last; i++)
        {
            if (notes[i].Fret == 0)
                return false;
        }

        return stopped - atLowest + 1 <= Fingers;
    }

    /// <summary>True when two keys can be stopped together on neighbouring strings, inside the hand; open strings are free.</summary>
    /// <param name="openStrings">MIDI numbers of the open strings, in order of position.</param>
    /// <param name="one">A key.</param>
    /// <param name="other">Another key.</param>
    /// <param name="stretch">Frets that the hand covers, including first and last.</param>
    public static bool CanStopTogether(IReadOnlyList<int> openStrings, int one, int other, int stretch)
    {
        for (var s = 0; s + 1 < openStrings.Count; s++)
        {
            if (Fits(one - openStrings[s], other - openStrings[s + 1]) || Fits(other - openStrings[s], one - openStrings[s + 1]))
                return true;
        }

        return false;

        bool Fits(int first, int second) => first >= 0 && second >= 0 && (first == 0 || second == 0 || Math.Abs(first - second) < stretch);
    }

    private sealed class Search
    {
        private readonly int[][] _fretsByString;
        private readonly int[] _openStrings;
        private readonly ChordNeeds _needs;
        private readonly int[] _requiredByVoices;
        private readonly int _maxStretch;
        private readonly int _minVoices;
        private readonly int _maxVoices;
        private readonly int _lowIntervalLimit;
        private readonly int _limit;
        private readonly List<StringFingering> _found;
        private readonly StringNote[] _notes;

        public Search(
            IReadOnlyList<int> openStrings, int frets, ChordNeeds needs, int maxStretch, int minVoices, int maxVoices, int lowIntervalLimit,
            int limit, List<StringFingering> found)
        {
            _openStrings = [.. openStrings];
            _needs = needs;
            _maxStretch = maxStretch;
            _minVoices = minVoices;
            _maxVoices = maxVoices;
            _lowIntervalLimit = lowIntervalLimit;
            _limit = limit;
            _found = found;
            _notes = new StringNote[maxVoices];
            _requiredByVoices = new int[maxVoices + 1];
            for (var voices = 0; voices <= maxVoices; voices++)
                _requiredByVoices[voices] = needs.RequiredMask(voices);
            _fretsByString = new int[_openStrings.Length][];
            for (var s = 0; s < _openStrings.Length; s++)
            {
                var usable = new List<int>();
                for (var fret = 0; fret <= frets; fret++)
                {
                    if ((needs.AllMask >> PitchName.Modulo(_openStrings[s] + fret, 12) & 1) != 0)
                        usable.Add(fret);
                }

                _fretsByString[s] = [.. usable];
            }
        }

        public void Run()
        {
            for (var first = 0; first + _minVoices <= _openStrings.Length; first++)
                Place(first, 0, 0, 0, int.MaxValue, 0);
        }

        // Puts the next note on this string and goes on to the next string, or skips this string if none has been skipped yet.
        private void Place(int s, int count, int skipped, int present, int lowest, int highest)
        {
            foreach (var fret in _fretsByString[s])
            {
                if (_found.Count >= _limit)
                    return;
                var newLowest = fret == 0 ? lowest : Math.Min(lowest, fret);
                var newHighest = Math.Max(highest, fret);
                // A fret above the stretch from the lowest stopped fret rules out all higher frets too.
                if (fret > 0 && lowest != int.MaxValue && fret - lowest >= _maxStretch)
                    break;
                if (fret > 0 && newHighest - newLowest >= _maxStretch)
                    continue;
                var pitch = _openStrings[s] + fret;
                var bit = 1 << PitchName.Modulo(pitch, 12);
                if (((present & bit) != 0 && (_needs.DoubleMask & bit) == 0) || Rubs(pitch, count))
                    continue;
                _notes[count] = new StringNote(s, fret, pitch);
                GoOn(s, count + 1, skipped, present | bit, newLowest, newHighest);
            }
        }

        private void GoOn(int s, int count, int skipped, int present, int lowest, int highest)
        {
            if (count >= _minVoices
                && ChordNeeds.Missing(_requiredByVoices[count], present) == 0
                && IsHoldable(_notes.AsSpan(0, count)))
            {
                _found.Add(new StringFingering([.. _notes.AsSpan(0, count)]));
            }

            if (count == _maxVoices)
                return;
            for (var skip = 0; skip + skipped <= 1; skip++)
            {
                var next = s + 1 + skip;
                var most = Math.Min(_maxVoices, count + _openStrings.Length - next);
                if (next >= _openStrings.Length || most < _minVoices)
                    return;
                // Stop when even the largest number of notes left has no room for the missing tones.
                if (CanBeCompleted(count, most, present))
                    Place(next, count, skipped + skip, present, lowest, highest);
            }
        }

        private bool CanBeCompleted(int count, int most, int present)
        {
            for (var voices = Math.Max(count + 1, _minVoices); voices <= most; voices++)
            {
                if (ChordNeeds.Missing(_requiredByVoices[voices], present) <= voices - count)
                    return true;
            }

            return false;
        }

        private bool Rubs(int pitch, int count)
        {
            for (var i = 0; i < count; i++)
            {
                var distance = Math.Abs(pitch - _notes[i].Pitch);
                if (distance == 0 || (distance < Voicings.LowestAllowedInterval && Math.Min(pitch, _notes[i].Pitch) < _lowIntervalLimit))
                    return true;
            }

            return false;
        }
    }
}
