namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>How hard a string is excited in one velocity layer.</summary>
/// <param name="Hardness">Cutoff of the excitation by plectrum, finger or hammer in Hz, two poles.</param>
/// <param name="Tilt">Factor on the recipe's <see cref="PluckRecipe.Tilt"/>: a harder touch is narrower.</param>
/// <param name="Noise">Level of the noise of plectrum, finger or hammer against the string.</param>
/// <param name="Click">Level of the full-band click of the touch, relative to the string.</param>
/// <param name="Rate">The sample rate to stay close to, in Hz; a soft layer needs less.</param>
internal readonly record struct PluckLayer(double Hardness, double Tilt, double Noise, double Click, int Rate);
