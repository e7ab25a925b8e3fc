namespace GrooveLab.Audio.SoundFonts;

/// <summary>A preset ready to play: its regions, and the pool that their samples lie in. Immutable.</summary>
internal sealed record ResolvedPreset(SoundFontPreset Preset, Region[] Regions, SamplePool Pool);
