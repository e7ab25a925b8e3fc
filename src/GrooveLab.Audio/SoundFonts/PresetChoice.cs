
namespace GrooveLab.Audio.SoundFonts;

/// <summary>The preset that answers a bank and program number.</summary>
/// <param name="Preset">The preset that is used.</param>
/// <param name="IsExact">Whether it has the numbers asked for; false where the nearest one stands in.</param>
public readonly record struct PresetChoice(SoundFontPreset Preset, bool IsExact);
