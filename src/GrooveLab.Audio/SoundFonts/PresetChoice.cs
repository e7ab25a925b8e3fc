
namespace GrooveLab.Audio.SoundFonts;

/// <summary>The preset that plays for a bank and program number.</summary>
/// <param name="Preset">The preset to play.</param>
/// <param name="IsExact">Whether it has the requested numbers; false when the nearest one replaces it.</param>
/// <param name="IsOtherKind">Whether percussion would play a pitched sound, or a pitched sound percussion, because the bank has nothing else.</param>
public readonly record struct PresetChoice(SoundFontPreset Preset, bool IsExact, bool IsOtherKind = false);
