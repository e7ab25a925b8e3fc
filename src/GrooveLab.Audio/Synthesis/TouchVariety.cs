using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Makes repeated notes of one channel differ: each borrows a neighbouring key's sample, tuning and cutoff by chance.</summary>
/// <remarks>
/// Depends only on the notes that the channel has played since its reset, so neither buffer sizes nor other channels change it.
/// Allocates nothing after its creation.
/// </remarks>
internal sealed class TouchVariety
{
    // Small enough that nobody hears a note out of tune: listeners notice about 5 cents at best. Common practice, no source.
    private const float MostCents = 2.5f;

    // At an open filter, 20 kHz, this lowers the octave around 8 kHz by up to 1.5 dB.
    private const float MostDarkness = 700;

    // The sample with which each key started last, as its first point's index plus one; 0 for none.
    private readonly int[] _lastSamples = new int[128];
    private ulong _notes;

    /// <summary>Forgets the notes played.</summary>
    public void Reset()
    {
        Array.Clear(_lastSamples);
        _notes = 0;
    }

    /// <summary>Chooses how the next note is touched.</summary>
    /// <param name="regions">The regions of the channel's preset.</param>
    /// <param name="key">The note's key.</param>
    /// <param name="velocity">The note's velocity.</param>
    /// <param name="reach">How many keys away the borrowed samples are; 0 to borrow none, as for a drum kit.</param>
    [MethodImpl(HotCode.Compiled)]
    public NoteTouch Next(Region[] regions, int key, int velocity, int reach)
    {
        var chance = Mixed(++_notes);
        var cents = MostCents * Share(chance, 0);
        var darkness = MostDarkness * (0.5f + (0.5f * Share(chance, 16)));
        var (chosen, sample) = (key, FirstSample(regions, key, velocity));

        // Own and borrowed samples alternate, so that neighbouring notes are never two samples apart, which would be too far.
        var side = (chance >> 40 & 1) == 0 ? reach : -reach;
        for (var attempt = 0; attempt < 2 && reach > 0 && sample == _lastSamples[key]; attempt++, side = -side)
        {
            if (FirstSample(regions, key + side, velocity) is var found && found != 0)
                (chosen, sample) = (key + side, found);
        }
        _lastSamples[key] = sample;
        return new(chosen, cents, darkness);
    }

    [MethodImpl(HotCode.Compiled)]
    private static int FirstSample(Region[] regions, int key, int velocity)
    {
        foreach (var region in regions)
        {
            if (region.Answers(key, velocity))
                return region.Start + 1;
        }
        return 0;
    }

    // 16 bits as a number from -1 to 1.
    [MethodImpl(HotCode.Compiled)]
    private static float Share(ulong chance, int shift) => ((chance >> shift) & 0xFFFF) / 32767.5f - 1;

    // The output function of SplitMix64 (Steele, Lea and Flood 2014).
    [MethodImpl(HotCode.Compiled)]
    private static ulong Mixed(ulong count)
    {
        var z = unchecked(count * 0x9E3779B97F4A7C15UL);
        z = unchecked((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL);
        z = unchecked((z ^ (z >> 27)) * 0x94D049BB133111EBUL);
        return z ^ (z >> 31);
    }
}
