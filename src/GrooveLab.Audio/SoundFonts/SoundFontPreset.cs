
namespace GrooveLab.Audio.SoundFonts;

/// <summary>A preset as the bank lists it. Its sound is resolved on demand.</summary>
/// <param name="Index">Its index in the bank's own order (the <c>phdr</c> chunk), from 0.</param>
/// <param name="Bank">MIDI bank, 0-127; 128 is percussion.</param>
/// <param name="Program">MIDI program as on the wire, 0-127.</param>
/// <param name="Name">Its name in the bank, at most 20 characters.</param>
public sealed record SoundFontPreset(int Index, int Bank, int Program, string Name)
{
    /// <summary>The bank number that holds percussion presets (SoundFont 2.04, section 7.2).</summary>
    public const int PercussionBank = 128;
}
