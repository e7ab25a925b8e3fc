namespace GrooveLab.Audio.SoundFonts;

/// <summary>What a voice does at the loop of its sample (generator 54, <c>sampleModes</c>).</summary>
internal enum LoopMode
{
    /// <summary>Mode 0, and the reserved mode 2: the sample plays once to its end.</summary>
    None,

    /// <summary>Mode 1: the loop repeats while the voice sounds.</summary>
    Continuous,

    /// <summary>Mode 3: the loop repeats until the key is released, then the rest of the sample plays.</summary>
    UntilRelease,
}
