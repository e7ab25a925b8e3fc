namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A preset, which a channel selects by bank and program.</summary>
/// <param name="Name">At most 20 ASCII characters.</param>
/// <param name="Bank">0-127, 128 for percussion.</param>
/// <param name="Program">0-127.</param>
/// <param name="Zones">A global zone, if any, first.</param>
public sealed record SoundFontPreset(string Name, int Bank, int Program, IReadOnlyList<SoundFontZone<SoundFontInstrument>> Zones);
