using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

public class AllocationTests
{
    private static readonly int[] Controllers = [0, 1, 7, 10, 11, 32, 66, 68, 91, 93, 101, 100, 6, 38, 99, 98, 38, 6];

    [Fact]
    public void AnyMember_AfterWarmUp_AllocatesNothing()
    {
        var synth = new SoundFontSynth(TestBanks.Load(TestBanks.VariedFile()), 48000, new SoundFontSynthOptions { MaxVoices = 24 });
        synth.Prepare(0, 40);
        synth.WarmUp();
        var left = new float[500];
        var right = new float[500];
        // Run once first, so that the test's own objects exist.
        UseEverything(synth, left, right);

        var before = GC.GetAllocatedBytesForCurrentThread();
        for (var round = 0; round < 50; round++)
            UseEverything(synth, left, right);
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;

        Assert.Equal(0, allocated);
        Assert.True(synth.StolenVoices > 0, "the test should steal voices");
        Assert.True(synth.IgnoredCalls > 0, "the test should make calls out of range");
    }

    [Fact]
    public void Program_NotPreparedAfterWarmUp_KeepsTheSoundAndCounts()
    {
        var synth = new SoundFontSynth(TestBanks.Load(TestBanks.VariedFile()), 48000);
        synth.WarmUp();

        synth.Program(0, 40);

        Assert.Equal("tonal", synth.PresetOn(0)!.Name);
        Assert.Equal(1, synth.UnpreparedPrograms);
        synth.Prepare(0, 40);
        synth.Program(0, 40);
        Assert.Equal("layered", synth.PresetOn(0)!.Name);
        Assert.Equal(1, synth.UnpreparedPrograms);
    }

    [Fact]
    public void Program_ResolvesAtFirstNote_ReadsOnlySoundsWithNotes()
    {
        var bank = TestBanks.Load(TestBanks.VariedFile());
        var synth = new SoundFontSynth(bank, 48000, new SoundFontSynthOptions { ResolvesAtFirstNote = true });
        var tonal = synth.PresetOn(0)!;

        synth.Program(0, 40);
        var layered = synth.PresetOn(0)!;
        Assert.Null(bank.TryGetResolved(layered));
        synth.NoteOn(0, 60, 100);

        Assert.NotNull(bank.TryGetResolved(layered));
        Assert.Null(bank.TryGetResolved(tonal));
    }

    [Fact]
    public void Render_ResolvesAtFirstNote_GivesTheSameBits()
    {
        Assert.Equal(Play(resolvesAtFirstNote: false), Play(resolvesAtFirstNote: true));

        static float[] Play(bool resolvesAtFirstNote)
        {
            var synth = new SoundFontSynth(
                TestBanks.Load(TestBanks.VariedFile()), 48000, new SoundFontSynthOptions { ResolvesAtFirstNote = resolvesAtFirstNote });
            synth.NoteOn(0, 60, 100);
            synth.Program(1, 40);
            synth.NoteOn(1, 67, 100);
            return synth.Left(2000);
        }
    }

    private static void UseEverything(SoundFontSynth synth, float[] left, float[] right)
    {
        for (var i = 0; i < 12; i++)
        {
            synth.NoteOn(i % 4, 50 + i, 20 + (i * 8));
            synth.NoteOn(9, 40 + (2 * i), 90);
            synth.Control(i % 4, 64, (i & 1) * 127);
            foreach (var controller in Controllers)
                synth.Control(i % 4, controller, controller is 0 ? 0 : (i * 9) & 127);
            synth.Program(i % 4, i % 2 == 0 ? 40 : 0);
            synth.PitchWheel(i % 4, i * 1000);
            synth.ChannelPressure(i % 4, i * 5);
            synth.KeyPressure(i % 4, 50 + i, i * 9);
            synth.Render(left, right);
            synth.NoteOff(i % 4, 50 + i);
            synth.Render(left.AsSpan(0, 37), right.AsSpan(0, 37));
            _ = synth.ActiveVoices;
        }
        // Out of range: ignored and counted.
        synth.NoteOn(99, 60, 100);
        synth.NoteOn(0, 200, 100);
        synth.Control(0, 500, 0);
        synth.NoteOff(-1, 0);
        synth.PitchWheel(0, 99999);
        synth.Control(1, 120, 0);
        synth.Control(2, 121, 0);
        synth.Control(3, 123, 0);
        synth.Control(3, 99, 120);
        synth.Control(3, 98, 8);
        synth.Control(3, 6, 60);
        synth.Control(3, 126, 1);
        synth.NoteOn(3, 60, 100);
        synth.NoteOn(3, 62, 100);
        synth.NoteOff(3, 62);
        synth.Control(3, 127, 0);
        synth.Render(left, right.AsSpan(0, 100));
    }
}
