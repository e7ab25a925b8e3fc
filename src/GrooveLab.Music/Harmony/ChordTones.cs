using System.Collections;
using System.Collections.Immutable;

namespace GrooveLab.Music.Harmony;

/// <summary>How a sound sits with a chord.</summary>
public enum PitchFit
{
    /// <summary>It belongs to the chord (the written bass included).</summary>
    ChordTone,

    /// <summary>It is in the key's scale and more than a semitone from every tone of the chord: it passes without rubbing.</summary>
    ScaleTone,

    /// <summary>It is neither in the chord nor in the scale, and rubs against no chord tone.</summary>
    Outside,

    /// <summary>It lies a semitone from a tone of the chord, in any octave, whether in the scale or not.</summary>
    Clash,
}

/// <summary>
/// The tones of a chord from the root up in order of their degree: third (or what stands for it), fifth, sixth or seventh, ninth,
/// eleventh, thirteenth. Only the chord proper: a slash bass that is foreign to it is in <see cref="ChordSymbol.Bass"/> alone. Empty for N.C.
/// </summary>
public sealed class ChordTones : IReadOnlyList<ChordTone>
{
    private readonly ImmutableArray<ChordTone> _tones;
    private readonly int _consonantMask;

    internal ChordTones(ImmutableArray<ChordTone> tones, PitchName? bass)
    {
        _tones = tones;
        foreach (var tone in tones)
            PitchClassMask |= 1 << tone.PitchClass;
        _consonantMask = PitchClassMask | (bass is { } name ? 1 << name.PitchClass : 0);
    }

    /// <inheritdoc/>
    public int Count => _tones.Length;


    /// <summary>The pitch classes as twelve bits: bit n is set when pitch class n is in the chord. The slash bass is not counted.</summary>
    public int PitchClassMask { get; }

    /// <summary>The root; null for N.C.</summary>
    public ChordTone? Root => Find(ChordDegree.Root);

    /// <summary>The third; null in a suspended chord or a power chord.</summary>
    public ChordTone? Third => Find(ChordDegree.Third);

    /// <summary>The fifth as the chord spells it: perfect, flat or raised (the flat one where both are asked for); null when it is left out.</summary>
    public ChordTone? Fifth => Find(ChordDegree.Fifth);

    /// <summary>The seventh; null when there is none.</summary>
    public ChordTone? Seventh => Find(ChordDegree.Seventh);


    /// <inheritdoc/>
    public ChordTone this[int index] => _tones[index];

    /// <summary>The first tone of a degree, lowest alteration first; null when the chord has none.</summary>
    public ChordTone? Find(ChordDegree degree)
    {
        foreach (var tone in _tones)
        {
            if (tone.Degree == degree)
                return tone;
        }

        return null;
    }

    /// <summary>Whether a sound belongs to the chord; the slash bass is not counted.</summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    public bool Contains(int midi) => (PitchClassMask >> PitchName.Modulo(midi, 12) & 1) != 0;

    /// <summary>
    /// How a sound sits with the chord in a key. The written bass counts as a chord tone. With N.C. nothing clashes: it is in the scale or
    /// outside. That a semitone clashes on either side is common practice for held tones; a passing tone may be judged more mildly.
    /// </summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    /// <param name="key">The key whose scale is meant.</param>
    public PitchFit Fit(int midi, Key key)
    {
        var pitchClass = PitchName.Modulo(midi, 12);
        if ((_consonantMask >> pitchClass & 1) != 0)
            return PitchFit.ChordTone;
        var neighbours = 1 << ((pitchClass + 1) % 12) | 1 << ((pitchClass + 11) % 12);
        if ((_consonantMask & neighbours) != 0)
            return PitchFit.Clash;
        return key.Contains(pitchClass) ? PitchFit.ScaleTone : PitchFit.Outside;
    }

    /// <summary>The chord tone nearest to a sound, as a MIDI number; the lower of two equally near ones. The sound itself when it fits.</summary>
    /// <param name="midi">The MIDI number to start from.</param>
    /// <exception cref="InvalidOperationException">The chord has no tones (N.C.).</exception>
    public int Nearest(int midi)
    {
        for (var distance = 0; distance <= 6; distance++)
        {
            if (Contains(midi - distance))
                return midi - distance;
            if (Contains(midi + distance))
                return midi + distance;
        }

        throw new InvalidOperationException("N.C. has no tones to be near to.");
    }

    /// <inheritdoc/>
    public IEnumerator<ChordTone> GetEnumerator() => ((IEnumerable<ChordTone>)_tones).GetEnumerator();

    IEnumerator IEnumerable.GetEnumerator() => GetEnumerator();

    /// <summary>The names from the root up, separated by spaces: "C E G Bb".</summary>
    public override string ToString() => string.Join(' ', _tones.Select(tone => tone.Name));
}
