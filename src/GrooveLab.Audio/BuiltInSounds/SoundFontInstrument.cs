namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>An instrument: zones that lead to samples. Not what a channel selects, which is a preset.</summary>
/// <param name="Name">At most 20 ASCII characters.</param>
/// <param name="Zones">A global zone, if any, first.</param>
public sealed record SoundFontInstrument(string Name, IReadOnlyList<SoundFontZone<SoundFontSample>> Zones);
