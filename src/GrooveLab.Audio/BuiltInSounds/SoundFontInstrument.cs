namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>An instrument: zones with samples. A channel selects a preset, not an instrument.</summary>
/// <param name="Name">At most 20 ASCII characters.</param>
/// <param name="Zones">A global zone, if any, first.</param>
public sealed record SoundFontInstrument(string Name, IReadOnlyList<SoundFontZone<SoundFontSample>> Zones);
