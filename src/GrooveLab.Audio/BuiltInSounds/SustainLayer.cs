namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>How hard bow, bellows or breath drive the sound in one velocity layer.</summary>
/// <param name="Brightness">Frequency in Hz above which partials fall by a further 12 dB an octave.</param>
/// <param name="Noise">Level of bow or breath noise relative to the partials, as a ratio of root mean squares.</param>
/// <param name="Onset">Seconds until the tone reaches its full level.</param>
/// <param name="OnsetNoise">Level of the full-band noise before the tone.</param>
/// <param name="Rate">The sample rate to stay close to, in Hz; a soft layer needs less.</param>
/// <param name="LoopFrames">Frames of the loop, a power of two.</param>
internal readonly record struct SustainLayer(double Brightness, double Noise, double Onset, double OnsetNoise, int Rate, int LoopFrames);
