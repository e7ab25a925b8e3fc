
namespace GrooveLab.Audio.SoundFonts;

/// <summary>A preset ready to play: its regions. Immutable.</summary>
internal sealed record ResolvedPreset(SoundFontPreset Preset, Region[] Regions);
