
namespace GrooveLab.Audio.SoundFonts;

/// <summary>A preset with its regions, ready to play. Immutable.</summary>
internal sealed record ResolvedPreset(SoundFontPreset Preset, Region[] Regions);
