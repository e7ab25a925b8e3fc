namespace GrooveLab.Music.Feel;

/// <summary>Loudness as MIDI velocity, by the curve that SoundFonts use unless they say otherwise: 40 log10(velocity / 127) decibels.</summary>
/// <remarks>SoundFont 2.04, section 8.4.1: velocity to attenuation, concave, 960 cB.</remarks>
internal static class Loudness
{
    private const double DecibelsPerDecade = 40;

    /// <summary>The loudness of a velocity against that of 127, in decibels; never above zero.</summary>
    public static double Decibels(double velocity) => DecibelsPerDecade * Math.Log10(velocity / 127);

    /// <summary>A velocity louder or softer by so many decibels; it may lie outside 1-127 if the given one does.</summary>
    public static int Louder(int velocity, double decibels) => (int)Math.Round(velocity * Math.Pow(10, decibels / DecibelsPerDecade));
}
