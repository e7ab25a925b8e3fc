namespace GrooveLab.Audio.Synthesis;

/// <summary>How a <see cref="SoundFontSynth"/> is built. Fixed for its life.</summary>
public sealed record SoundFontSynthOptions
{
    /// <summary>Channels, 1-64; 16 at first.</summary>
    public int ChannelCount { get; init; } = 16;

    /// <summary>Voices that may sound at once, 1-1024; 256 at first. One note may need several.</summary>
    public int MaxVoices { get; init; } = 256;

    /// <summary>Whether reverb and chorus are left out; they cost nothing then.</summary>
    public bool Dry { get; init; }

    /// <summary>
    /// Factor of amplitude on everything, 0-16. At 1 a full-scale sample at full velocity, volume and expression reaches
    /// -3 dB of full scale on each side when panned to the middle; many voices together go beyond full scale.
    /// </summary>
    public float Gain { get; init; } = 1;

    /// <summary>
    /// Factor on the bank's own initial attenuation (generator 48), 0-1. SoundFont 2.04 means 1; some players use 0.4, as
    /// one family of sound cards did.
    /// </summary>
    public float InitialAttenuationScale { get; init; } = 1;

    /// <summary>How the sound between two sample points is found; four points at first.</summary>
    public Interpolation Interpolation { get; init; }

    /// <summary>The kernel; tests compare them.</summary>
    internal KernelWidth Kernel { get; init; }
}
