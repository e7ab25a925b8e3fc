namespace GrooveLab.Audio.Synthesis;

/// <summary>How values between two sample points are computed.</summary>
public enum Interpolation
{
    /// <summary>A cubic through four points, for live playing.</summary>
    FourPoint,

    /// <summary>A windowed sinc over eight points: cleaner in the highest octave, for rendering.</summary>
    EightPoint,
}
