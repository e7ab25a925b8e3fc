namespace GrooveLab.Audio.SoundFonts;

/// <summary>How a modulator source maps its controller (SoundFont 2.04, section 8.2.4).</summary>
internal enum ModulatorCurve
{
    /// <summary>In proportion.</summary>
    Linear,

    /// <summary>Slow at first, then fast: minus 40/96 times the decimal logarithm of what is left above.</summary>
    Concave,

    /// <summary>Fast at first, then slow: the concave curve turned round.</summary>
    Convex,

    /// <summary>The least value below the middle, the greatest from there on.</summary>
    Switch,
}
