using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>The ten modulators that every instrument has unless it says otherwise (SoundFont 2.04, section 8.4).</summary>
internal static class DefaultModulators
{
    /// <summary>All ten, in the order of the section's paragraphs.</summary>
    public static readonly IReadOnlyList<Modulator> All =
    [
        Make(0x0502, 0, GeneratorEnum.InitialAttenuation, 960),
        // Version 2.01 had a velocity switch as amount source here; 2.04 has none.
        Make(0x0102, 0, GeneratorEnum.InitialFilterCutoffFrequency, -2400),
        Make(0x000d, 0, GeneratorEnum.VibratoLFOToPitch, 50),
        Make(0x0081, 0, GeneratorEnum.VibratoLFOToPitch, 50),
        // The specification prints 0x0582, but its text says controller 7.
        Make(0x0587, 0, GeneratorEnum.InitialAttenuation, 960),
        // The specification prints 1000. On a source from -1 to 1 that would already be full left at 32; in MIDI 1.0 and General MIDI
        // (RP-036) the controller sweeps the whole width of 1000 from 0 to 127, which is 500 to either side.
        Make(0x028a, 0, GeneratorEnum.Pan, 500),
        Make(0x058b, 0, GeneratorEnum.InitialAttenuation, 960),
        Make(0x00db, 0, GeneratorEnum.ReverbEffectsSend, 200),
        Make(0x00dd, 0, GeneratorEnum.ChorusEffectsSend, 200),
        // Its destination "initial pitch" has no generator number; fine tune is the generator that adds cents to it.
        Make(0x020e, 0x0010, GeneratorEnum.FineTune, 12700),
    ];

    private static Modulator Make(ushort source, ushort amountSource, GeneratorEnum destination, float amount) =>
        new(new ModulatorSource(source), new ModulatorSource(amountSource), destination, amount, IsAbsolute: false);
}
