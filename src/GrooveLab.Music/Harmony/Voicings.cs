namespace GrooveLab.Music.Harmony;

/// <summary>The spacing of the voices of a chord.</summary>
public enum VoicingSpacing
{
    /// <summary>Close or open.</summary>
    Any,

    /// <summary>All voices within an octave.</summary>
    Close,

    /// <summary>More than an octave from lowest to highest, at most an octave between adjacent voices.</summary>
    Open,
}

/// <summary>Voicings of a chord for instruments that can play any notes together; for fretted strings see
/// <see cref="StringVoicings"/>.</summary>
public static class Voicings
{
    /// <summary>C3: below this MIDI number thirds and smaller intervals sound muddy and are avoided. Common practice, no
    /// source.</summary>
    public const int LowIntervalLimit = 48;

    /// <summary>The smallest interval allowed below the limit, in semitones: a fourth.</summary>
    internal const int LowestAllowedInterval = 5;

    /// <summary>All voicings of a chord, each ascending, ordered by their notes from the lowest up (always the same order). A voicing
    /// contains what the chord needs, as far as its number of voices allows: third or its replacement, seventh or sixth, altered fifth,
    /// altered tensions and the highest natural one; the root unless omitted. Only root, third and perfect fifth are doubled, only at the
    /// octave.</summary>
    /// <param name="tones">The chord's tones. None (N.C.) gives no voicings.</param>
    /// <param name="voices">Number of notes, 1 to 10.</param>
    /// <param name="low">Lowest MIDI number allowed.</param>
    /// <param name="high">Highest MIDI number allowed.</param>
    /// <param name="rootOptional">True when the root may be left to another part. A power chord keeps it.</param>
    /// <param name="spacing">Close, open or both.</param>
    /// <param name="lowIntervalLimit">MIDI number below which adjacent notes are at least a fourth apart; the lower note counts.</param>
    /// <param name="limit">Maximum number of voicings; later (higher) ones are omitted.</param>
    /// <exception cref="ArgumentOutOfRangeException">Voices are not 1 to 10, or the limit is below 1.</exception>
    public static IReadOnlyList<int[]> Enumerate(
        ChordTones tones,
        int voices,
        int low,
        int high,
        bool rootOptional = false,
        VoicingSpacing spacing = VoicingSpacing.Any,
        int lowIntervalLimit = LowIntervalLimit,
        int limit = 4096)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(voices, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(voices, 10);
        ArgumentOutOfRangeException.ThrowIfLessThan(limit, 1);
        var found = new List<int[]>();
        if (tones.Count > 0)
        {
            var needs = new ChordNeeds(tones, rootOptional);
            var search = new Search(needs, needs.RequiredMask(voices), low, high, spacing, lowIntervalLimit, limit, found);
            search.Extend(new int[voices], 0, 0);
        }

        return found;
    }

    private sealed class Search(
        ChordNeeds needs, int required, int low, int high, VoicingSpacing spacing, int lowIntervalLimit, int limit, List<int[]> found)
    {
        public void Extend(int[] voicing, int count, int present)
        {
            if (count == voicing.Length)
            {
                if (spacing != VoicingSpacing.Open || voicing[^1] - voicing[0] > 12)
                    found.Add([.. voicing]);
                return;
            }

            var from = low;
            var to = high;
            if (count > 0)
            {
                var below = voicing[count - 1];
                from = below + (below < lowIntervalLimit ? LowestAllowedInterval : 1);
                to = Math.Min(high, spacing == VoicingSpacing.Close ? voicing[0] + 12 : below + 12);
            }

            for (var pitch = from; pitch <= to && found.Count < limit; pitch++)
            {
                var bit = 1 << PitchName.Modulo(pitch, 12);
                if ((needs.AllMask & bit) == 0 || ((present & bit) != 0 && (needs.DoubleMask & bit) == 0))
                    continue;
                if (ChordNeeds.Missing(required, present | bit) > voicing.Length - count - 1)
                    continue;
                voicing[count] = pitch;
                Extend(voicing, count + 1, present | bit);
            }
        }
    }
}
