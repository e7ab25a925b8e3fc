namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>How hard a string is set going in one velocity layer.</summary>
/// <param name="Hardness">Hz above which the plectrum, finger or hammer gives no more, by two poles.</param>
/// <param name="Tilt">Factor on the recipe's <see cref="PluckRecipe.Tilt"/>: a harder touch is a narrower one.</param>
/// <param name="Noise">Level of the noise of plectrum, finger or hammer against the string.</param>
/// <param name="Rate">Sample rate to stay near; a soft layer needs less.</param>
internal readonly record struct PluckLayer(double Hardness, double Tilt, double Noise, int Rate);
