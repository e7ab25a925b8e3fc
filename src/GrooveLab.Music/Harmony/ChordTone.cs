namespace GrooveLab.Music.Harmony;

/// <summary>The degree of a tone in its chord, counted in scale degrees from the root; each member's number is its degree.</summary>
public enum ChordDegree
{
    /// <summary>The root.</summary>
    Root = 1,

    /// <summary>The second that replaces the third (sus2).</summary>
    Second = 2,

    /// <summary>The third.</summary>
    Third = 3,

    /// <summary>The fourth that replaces the third (sus4).</summary>
    Fourth = 4,

    /// <summary>The fifth, perfect, flat or raised.</summary>
    Fifth = 5,

    /// <summary>The sixth of a chord without seventh.</summary>
    Sixth = 6,

    /// <summary>The seventh.</summary>
    Seventh = 7,

    /// <summary>The ninth, also written add2.</summary>
    Ninth = 9,

    /// <summary>The eleventh, also written add4.</summary>
    Eleventh = 11,

    /// <summary>The thirteenth; a lowered sixth counts as a flat thirteenth.</summary>
    Thirteenth = 13,
}

/// <summary>A tone of a chord: its spelled name and its degree.</summary>
/// <param name="Name">The spelled pitch class.</param>
/// <param name="Degree">Its degree over the root.</param>
/// <param name="Alteration">Semitones relative to the major scale on the root: a minor third is -1, a minor seventh -1, a raised ninth
/// +1, a diminished seventh -2.</param>
public readonly record struct ChordTone(PitchName Name, ChordDegree Degree, int Alteration)
{
    /// <summary>The pitch class, 0 for C to 11 for B.</summary>
    public int PitchClass => Name.PitchClass;
}
