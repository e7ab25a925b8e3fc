namespace GrooveLab.Music.Charts;

/// <summary>How the band stops in a bar; tune and count go on as they are.</summary>
public enum BandStop
{
    /// <summary>It plays.</summary>
    None,

    /// <summary>All strike the downbeat, short, and rest.</summary>
    Strike,

    /// <summary>All rest.</summary>
    Rest,

    /// <summary>All strike the downbeat and let it sound, out of time; then the count leads back into it.</summary>
    Hold,
}
