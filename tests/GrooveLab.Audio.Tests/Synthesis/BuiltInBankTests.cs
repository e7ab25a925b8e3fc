using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.BuiltInSounds;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

public class BuiltInBankTests
{
    [Fact]
    public void NoteOn_EveryBuiltInPreset_Sounds()
    {
        var bank = SoundFontBank.Load(BankUnderTest.Instance.Bytes, "built-in");
        foreach (var preset in bank.Presets)
        {
            var region = bank.Resolve(preset).Regions[0];
            var synth = new SoundFontSynth(bank, Playing.Rate, new SoundFontSynthOptions { Dry = true });
            synth.SetPercussion(0, preset.Bank == SoundFontPreset.PercussionBank);
            synth.Control(0, 0, preset.Bank & 127);
            synth.Program(0, preset.Program);
            Assert.Equal(preset, synth.PresetOn(0));

            synth.NoteOn(0, Math.Clamp(60, region.LowKey, region.HighKey), 127);
            var sound = synth.Left(4800);

            Assert.True(Playing.Rms(sound) > 0.01, $"{preset.Name}: {Playing.Rms(sound)}");
            Assert.All(sound, v => Assert.True(float.IsFinite(v)));
        }
    }
}
