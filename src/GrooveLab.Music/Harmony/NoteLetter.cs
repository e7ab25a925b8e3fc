namespace GrooveLab.Music.Harmony;

/// <summary>The letter of a spelled pitch, numbered from C = 0 upwards.</summary>
public enum NoteLetter
{
    /// <summary>C, semitone 0 of the octave.</summary>
    C,

    /// <summary>D, semitone 2.</summary>
    D,

    /// <summary>E, semitone 4.</summary>
    E,

    /// <summary>F, semitone 5.</summary>
    F,

    /// <summary>G, semitone 7.</summary>
    G,

    /// <summary>A, semitone 9.</summary>
    A,

    /// <summary>B natural (H in German-speaking countries), semitone 11.</summary>
    B,
}
