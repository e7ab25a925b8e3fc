namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>How hard a bow, bellows or breath drives in one velocity layer.</summary>
/// <param name="Brightness">Hz above which partials fall by a further 12 dB an octave.</param>
/// <param name="Noise">Level of bow or breath noise against the partials, as a ratio of root mean squares.</param>
/// <param name="Onset">Seconds until the tone stands.</param>
/// <param name="OnsetNoise">Level of the noise that goes before the tone.</param>
internal readonly record struct SustainLayer(double Brightness, double Noise, double Onset, double OnsetNoise);
