using CsCheck;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Every event takes effect on its frame, and any buffer sizes give the same bits.</summary>
public class ExactnessTests
{
    [Fact]
    public void NoteOn_AtAnyFrame_IsTheFirstFrameThatSounds() =>
        Gen.Int[0, 700].Sample(frame =>
        {
            var synth = Playing.Dry(TestBanks.Constant());
            synth.Left(frame);
            synth.NoteOn(0, 60, 100);

            Assert.True(synth.Left(1)[0] > 0);
        }, iter: 100);

    [Fact]
    public void NoteOff_AtAnyFrame_IsTheFirstFrameThatDiffers() => EventIsFirstDifference(synth => synth.NoteOff(0, 60));

    [Fact]
    public void Control_AtAnyFrame_IsTheFirstFrameThatDiffers() => EventIsFirstDifference(synth => synth.Control(0, 7, 40));

    [Fact]
    public void AllSoundOff_AtAnyFrame_IsTheFirstFrameThatDiffers() => EventIsFirstDifference(synth => synth.Control(0, 120, 0));

    [Fact]
    [Measures(GeneratorEnum.ExclusiveClass)]
    public void ExclusiveClass_SecondNote_ChokesFirstFromItsFrame() =>
        // The second key is outside the sounding region but in the same class; its own zone is silent.
        EventIsFirstDifference(synth => synth.NoteOn(0, 61, 100), Choking());

    [Fact]
    public void PitchWheel_AtAnyFrame_IsTheFirstFrameThatDiffersByMoreThanRounding() =>
        // The new pitch moves the frame after the one on which it is set: the first frame keeps its place in the sample.
        EventIsFirstDifference(synth => synth.PitchWheel(0, 16383), TestBanks.Sine(), lag: 1);

    [Fact]
    public void ExclusiveClass_LayersOfOneNote_DoNotChokeEachOther()
    {
        var builder = new BankBuilder();
        var sample = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        var zone = TestBanks.Sounding(new Zone((GeneratorEnum.ExclusiveClass, 3)), sample, 1);
        var instrument = builder.AddInstrument(zone, zone);
        builder.AddPreset(0, 0, "two", new Zone((GeneratorEnum.Instrument, instrument)));
        var synth = Playing.Dry(TestBanks.Load(builder.Build()));

        synth.NoteOn(0, 60, 127);

        Assert.Equal(2, synth.Left(4800)[^1], 0.01);
    }

    [Fact]
    public void Render_ChoppedByAnySizes_IsBitIdentical()
    {
        var whole = Perform(Score(new Random(5)), [4096]);
        foreach (var size in new[] { 1, 64, 441, 1000 })
            AssertSameBits(whole, Perform(Score(new Random(5)), [size]));
    }

    [Fact]
    public void Render_RandomScoreAndChops_IsBitIdentical() =>
        Gen.Select(Gen.Int[0, 1_000_000], Gen.Int[1, 500].Array[1, 20]).Sample(
            (seed, chops) => AssertSameBits(Perform(Score(new Random(seed)), [4096]), Perform(Score(new Random(seed)), chops)), iter: 40);

    [Fact]
    public void Render_TwoRunsOfOneScore_AreBitIdentical() =>
        AssertSameBits(Perform(Score(new Random(9)), [512]), Perform(Score(new Random(9)), [512]));

    private static SoundFontBank Choking()
    {
        var builder = new BankBuilder();
        var sounding = builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112);
        var silent = builder.AddSample(new short[200]);
        var instrument = builder.AddInstrument(
            TestBanks.Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(60, 60)), (GeneratorEnum.ExclusiveClass, 1)), sounding, 1),
            TestBanks.Sounding(new Zone((GeneratorEnum.KeyRange, Zone.Range(61, 61)), (GeneratorEnum.ExclusiveClass, 1)), silent, 0));
        builder.AddPreset(0, 0, "hats", new Zone((GeneratorEnum.Instrument, instrument)));
        return TestBanks.Load(builder.Build());
    }

    private static void EventIsFirstDifference(Action<SoundFontSynth> happen, SoundFontBank? bank = null, int lag = 0)
    {
        bank ??= TestBanks.Constant();
        Gen.Int[200, 900].Sample(frame =>
        {
            var with = Start();
            var without = Start();
            var before = with.Left(frame);
            happen(with);
            var after = with.Left(300);
            var reference = without.Left(frame + 300);

            Assert.Equal(reference[..frame], before);
            var first = Enumerable.Range(0, 300).First(i => after[i] != reference[frame + i]);
            Assert.Equal(lag, first);
        }, iter: 40);

        SoundFontSynth Start()
        {
            var synth = Playing.Dry(bank);
            synth.NoteOn(0, 60, 127);
            return synth;
        }
    }

    internal static List<(int Frame, Action<SoundFontSynth> Happen)> Score(Random random)
    {
        var score = new List<(int, Action<SoundFontSynth>)>();
        for (var i = 0; i < 60; i++)
        {
            var channel = random.Next(3) == 0 ? 9 : random.Next(3);
            var key = random.Next(40, 80);
            var value = random.Next(128);
            var controller = new[] { 1, 7, 10, 11, 64, 91, 93, 121, 123 }[random.Next(9)];
            score.Add((random.Next(9000), random.Next(7) switch
            {
                0 => s => s.NoteOff(channel, key),
                1 => s => s.Control(channel, controller, value),
                2 => s => s.PitchWheel(channel, value << 7),
                3 => s => s.Program(channel, value % 2 == 0 ? 0 : 40),
                _ => s => s.NoteOn(channel, key, Math.Max(1, value)),
            }));
        }
        return [.. score.OrderBy(e => e.Item1)];
    }

    internal static float[] Perform(
        List<(int Frame, Action<SoundFontSynth> Happen)> score, int[] chops, SoundFontSynthOptions? options = null)
    {
        const int Length = 12_000;
        var synth = new SoundFontSynth(
            TestBanks.Load(TestBanks.VariedFile()), 44100, options ?? new SoundFontSynthOptions { MaxVoices = 8 });
        var left = new float[Length];
        var right = new float[Length];
        var at = 0;
        var chop = 0;
        foreach (var (frame, happen) in score.Append((Length, synth => synth.Reset())))
        {
            while (at < frame)
            {
                var count = Math.Min(frame - at, chops[chop++ % chops.Length]);
                synth.Render(left.AsSpan(at, count), right.AsSpan(at, count));
                at += count;
            }
            happen(synth);
        }
        Assert.Contains(left, value => value != 0);
        return [.. left, .. right];
    }

    private static void AssertSameBits(float[] expected, float[] actual) =>
        Assert.True(
            expected.AsSpan().SequenceEqual(actual),
            $"first difference at {Enumerable.Range(0, expected.Length).FirstOrDefault(i => expected[i] != actual[i])}");
}
