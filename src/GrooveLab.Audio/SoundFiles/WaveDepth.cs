namespace GrooveLab.Audio.SoundFiles;

/// <summary>Bits a sample in a WAV or FLAC file.</summary>
public enum WaveDepth
{
    /// <summary>16 bits, readable by every program.</summary>
    Sixteen = 16,

    /// <summary>24 bits, for further processing.</summary>
    TwentyFour = 24,
}
