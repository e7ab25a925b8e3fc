namespace GrooveLab.Audio.SoundFonts;

/// <summary>How a modulator source maps its controller (SoundFont 2.04, section 8.2.4).</summary>
internal enum ModulatorCurve
{
    /// <summary>Proportional.</summary>
    Linear,

    /// <summary>Slow at first, then fast: -40/96 times the decimal logarithm of the distance to the maximum.</summary>
    Concave,

    /// <summary>Fast at first, then slow: the concave curve reversed.</summary>
    Convex,

    /// <summary>The minimum below the middle, the maximum from the middle up.</summary>
    Switch,
}
