using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFonts;

public class BankMutationTests
{
    [Fact]
    public void Load_MutatedBank_IsRefusedWithAReasonOrPlays()
    {
        var original = TestBanks.VariedFile();
        var refused = 0;
        var played = 0;
        for (var seed = 0; seed < 10_000; seed++)
        {
            var file = Mutate(original, new Random(seed));
            try
            {
                Play(TestBanks.Load(file));
                played++;
            }
            catch (SoundFontException e)
            {
                Assert.NotEmpty(e.Reason);
                refused++;
            }
        }
        // Both outcomes must occur, or the mutations test only one of them.
        Assert.True(refused > 1000 && played > 1000, $"{refused} refused, {played} played");
    }

    private static void Play(SoundFontBank bank)
    {
        var synth = new SoundFontSynth(bank, 22050, new SoundFontSynthOptions { MaxVoices = 32 });
        var left = new float[300];
        var right = new float[300];
        foreach (var preset in bank.Presets)
        {
            synth.Control(0, 0, preset.Bank);
            synth.Program(0, preset.Program);
            foreach (var key in new[] { 0, 44, 60, 63, 127 })
            {
                synth.NoteOn(0, key, 100);
                synth.NoteOn(9, key, 1);
                synth.Render(left, right);
                synth.NoteOff(0, key);
            }
        }
        synth.Render(left, right);
        Assert.All(left, value => Assert.True(float.IsFinite(value)));
    }

    private static byte[] Mutate(byte[] original, Random random)
    {
        // The tables come after the sound; most mutations should hit them.
        var tables = original.AsSpan().IndexOf("pdta"u8);
        return Damage.Of(original, random, file => random.Next(6) == 0 ? random.Next(file.Length) : random.Next(tables, file.Length), tables);
    }
}
