namespace GrooveLab.Music.Charts;

/// <summary>How the band stops in a bar; tune and count continue.</summary>
public enum BandStop
{
    /// <summary>No stop.</summary>
    None,

    /// <summary>All play a short downbeat and rest.</summary>
    Strike,

    /// <summary>All rest.</summary>
    Rest,

    /// <summary>All play the downbeat and let it ring, out of time; then the count leads back into time.</summary>
    Hold,
}
