namespace GrooveLab.Audio.Synthesis;

/// <summary>How the sound between two sample points is found.</summary>
public enum Interpolation
{
    /// <summary>A cubic through four points: what live playing uses.</summary>
    FourPoint,

    /// <summary>A windowed sinc over eight points: cleaner in the highest octave, for rendering.</summary>
    EightPoint,
}
