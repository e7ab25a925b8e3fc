using System.Collections;
using System.Collections.Immutable;

namespace GrooveLab.Music.Harmony;

/// <summary>How a pitch fits a chord.</summary>
public enum PitchFit
{
    /// <summary>It belongs to the chord (the written bass included).</summary>
    ChordTone,

    /// <summary>It is in the key's scale and more than a semitone from every tone of the chord: it can pass without clashing.</summary>
    ScaleTone,

    /// <summary>It is neither in the chord nor in the scale, but clashes with no chord tone.</summary>
    Outside,

    /// <summary>It is a semitone from a tone of the chord, in any octave, whether in the scale or not.</summary>
    Clash,
}

/// <summary>The tones of a chord, from the root up in order of degree: third (or its replacement), fifth, sixth or seventh, ninth,
/// eleventh, thirteenth. A slash bass that is not a chord tone is only in <see cref="ChordSymbol.Bass"/>. Empty for N.C.</summary>
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


    /// <summary>The pitch classes as twelve bits: bit n is set when pitch class n is in the chord. Excludes the slash bass.</summary>
    public int PitchClassMask { get; }

    /// <summary>The root; null for N.C.</summary>
    public ChordTone? Root => Find(ChordDegree.Root);

    /// <summary>The third; null in a suspended chord or a power chord.</summary>
    public ChordTone? Third => Find(ChordDegree.Third);

    /// <summary>The fifth as spelled in the chord: perfect, flat or raised (flat if both are written); null when omitted.</summary>
    public ChordTone? Fifth => Find(ChordDegree.Fifth);

    /// <summary>The seventh; null for none.</summary>
    public ChordTone? Seventh => Find(ChordDegree.Seventh);


    /// <inheritdoc/>
    public ChordTone this[int index] => _tones[index];

    /// <summary>The first tone of a degree, lowest alteration first; null for none.</summary>
    public ChordTone? Find(ChordDegree degree)
    {
        foreach (var tone in _tones)
        {
            if (tone.Degree == degree)
                return tone;
        }

        return null;
    }

    /// <summary>True when a pitch belongs to the chord; excludes the slash bass.</summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    public bool Contains(int midi) => (PitchClassMask >> PitchName.Modulo(midi, 12) & 1) != 0;

    /// <summary>How a pitch fits the chord in a key. The written bass counts as a chord tone. With N.C. nothing clashes: the pitch is in
    /// the scale or outside. Treating a semitone on either side as a clash is common practice for held tones; passing tones can be judged
    /// more mildly.</summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    /// <param name="key">The key that gives the scale.</param>
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

    /// <summary>The chord tone nearest to a pitch, as a MIDI number; the lower of two equally near. A chord tone returns
    /// itself.</summary>
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

        throw new InvalidOperationException("N.C. has no tones.");
    }

    /// <summary>Enumerates the tones from the root up, without allocating.</summary>
    public ImmutableArray<ChordTone>.Enumerator GetEnumerator() => _tones.GetEnumerator();

    IEnumerator<ChordTone> IEnumerable<ChordTone>.GetEnumerator() => ((IEnumerable<ChordTone>)_tones).GetEnumerator();

    IEnumerator IEnumerable.GetEnumerator() => ((IEnumerable)_tones).GetEnumerator();

    /// <summary>The names from the root up, separated by spaces: "C E G Bb".</summary>
    public override string ToString() => string.Join(' ', _tones.Select(tone => tone.Name));
}
