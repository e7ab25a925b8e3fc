namespace GrooveLab.Music.Ensemble;

/// <summary>One note of a riff before the chords decide its pitch.</summary>
/// <param name="Lane">The finger's lane; for plectrum and hammers only whether the note starts a cell.</param>
/// <param name="Rung">The note of the chord shape, from the lowest; for plectrum and hammers.</param>
/// <param name="Turn">1 for a scale step above a chord tone, -1 for one below, 0 for the chord tone itself.</param>
internal readonly record struct RollStep(Lane Lane, int Rung, int Turn)
{
    /// <summary>The relative height, from which the contour follows.</summary>
    public double Height(bool fingers) => fingers
        ? (Lane == Lane.Drone ? 2.5 : (int)Lane) + (Turn * 0.25)
        : Rung + (Turn * 0.5);
}
