using CsCheck;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Every kernel agrees with the scalar one, and gives the same bits for any buffer sizes.</summary>
public class KernelTests
{
    // Full scale is 1; the project's limit between vector widths.
    private const double Limit = -110;

    [Theory]
    [InlineData((int)KernelWidth.Vector128, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector256, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector512, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector128, Interpolation.EightPoint)]
    [InlineData((int)KernelWidth.Vector256, Interpolation.EightPoint)]
    [InlineData((int)KernelWidth.Vector512, Interpolation.EightPoint)]
    public void Render_AnyWidth_DiffersFromScalarByLessThanTheLimit(int width, Interpolation interpolation)
    {
        for (var seed = 0; seed < 6; seed++)
        {
            var truth = Perform(seed, KernelWidth.Scalar, interpolation, [4096]);
            var fast = Perform(seed, (KernelWidth)width, interpolation, [4096]);
            var difference = truth.Zip(fast, (a, b) => Math.Abs((double)a - b)).Max();

            Assert.True(truth.Max(Math.Abs) > 0.1, "the score should sound");
            Assert.True(Playing.Decibels(difference + 1e-12) < Limit, $"seed {seed}: {Playing.Decibels(difference)} dB");
        }
    }

    [Theory]
    [InlineData((int)KernelWidth.Scalar, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector128, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector256, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Vector512, Interpolation.FourPoint)]
    [InlineData((int)KernelWidth.Best, Interpolation.EightPoint)]
    public void Render_AnyWidthChopped_IsBitIdentical(int width, Interpolation interpolation) =>
        Gen.Select(Gen.Int[0, 1_000_000], Gen.Int[1, 300].Array[1, 12]).Sample(
            (seed, chops) => Assert.Equal(
                Perform(seed, (KernelWidth)width, interpolation, [4096]), Perform(seed, (KernelWidth)width, interpolation, chops)),
            iter: 8);

    /// <summary>
    /// For loops of any length from two points, seamless or not, at any pitch: groups of eight read across the seam equal what the scalar
    /// kernel reads point by point around the loop.
    /// </summary>
    [Theory]
    [InlineData(Interpolation.FourPoint)]
    [InlineData(Interpolation.EightPoint)]
    public void Render_AnyLoop_SaysTheSameAsScalarHoweverItIsChopped(Interpolation interpolation) =>
        Gen.Select(Gen.Int[2, 90], Gen.Bool, Gen.Int[0, 127], Gen.Bool, Gen.Int[1, 150].Array[1, 9]).Sample(
            (length, isSeamless, key, endsWithTheKey, chops) =>
            {
                var random = new Random(length + (key << 8));
                // All points positive, or the filter would remove a loop of two points.
                short Point() => (short)random.Next(2000, 30000);
                var cycle = Enumerable.Range(0, length).Select(_ => Point()).ToArray();
                // Equal points before and after the loop make it seamless; other points do not.
                short[] points = [
                    .. Enumerable.Range(0, 40).Select(i => isSeamless ? cycle[^(1 + ((39 - i) % length))] : Point()),
                    .. cycle,
                    .. Enumerable.Range(0, 60).Select(i => isSeamless ? cycle[i % length] : Point()),
                ];
                var bank = TestBanks.Of(points, endsWithTheKey ? 3 : 1, 40, 40 + length);

                var truth = PlayLoop(bank, key, KernelWidth.Scalar, interpolation, [4096]);
                var fast = PlayLoop(bank, key, KernelWidth.Best, interpolation, [4096]);

                Assert.True(truth.Max(Math.Abs) > 0.01, "the loop should sound");
                var difference = truth.Zip(fast, (a, b) => Math.Abs((double)a - b)).Max();
                Assert.True(Playing.Decibels(difference + 1e-12) < Limit, $"{Playing.Decibels(difference)} dB");
                Assert.Equal(fast, PlayLoop(bank, key, KernelWidth.Best, interpolation, chops));
            },
            iter: 300);

    /// <summary>Sends to none, one or both effects: only an effect without sends is skipped.</summary>
    [Theory]
    [InlineData(0, 0)]
    [InlineData(60, 0)]
    [InlineData(0, 60)]
    [InlineData(60, 60)]
    public void Render_AnySends_SaysTheSameAsScalar(int reverb, int chorus)
    {
        var truth = PlaySends(reverb, chorus, KernelWidth.Scalar, dry: false);
        var dry = PlaySends(reverb, chorus, KernelWidth.Scalar, dry: true);

        Assert.Equal(reverb + chorus > 0, truth.Take(12_000).Zip(dry, (a, b) => Math.Abs((double)a - b)).Max() > 0.003);
        foreach (var width in new[] { KernelWidth.Vector128, KernelWidth.Vector256, KernelWidth.Vector512 })
        {
            var fast = PlaySends(reverb, chorus, width, dry: false);
            var difference = truth.Zip(fast, (a, b) => Math.Abs((double)a - b)).Max();
            Assert.True(Playing.Decibels(difference + 1e-12) < Limit, $"{width}: {Playing.Decibels(difference)} dB");
        }
    }

    private static float[] PlaySends(int reverb, int chorus, KernelWidth width, bool dry)
    {
        var synth = new SoundFontSynth(
            TestBanks.Sine(), 48_000, new SoundFontSynthOptions { MaxVoices = 24, Dry = dry, Kernel = width });
        var left = new float[24_000];
        var right = new float[left.Length];
        synth.Control(0, 91, reverb);
        synth.Control(0, 93, chorus);
        foreach (var key in new[] { 50, 57, 62, 66 })
            synth.NoteOn(0, key, 100);
        synth.Render(left.AsSpan(0, 12_000), right.AsSpan(0, 12_000));
        // A send that starts and stops while the notes sound.
        synth.Control(0, 93, 127 - chorus);
        synth.Render(left.AsSpan(12_000, 3000), right.AsSpan(12_000, 3000));
        synth.Control(0, 93, chorus);
        synth.Render(left.AsSpan(15_000), right.AsSpan(15_000));
        return left;
    }

    private static float[] PlayLoop(SoundFontBank bank, int key, KernelWidth width, Interpolation interpolation, int[] chops)
    {
        var synth = new SoundFontSynth(
            bank, 48_000, new SoundFontSynthOptions { MaxVoices = 4, Dry = true, Kernel = width, Interpolation = interpolation });
        var left = new float[1500];
        var right = new float[left.Length];
        synth.NoteOn(0, key, 100);
        for (var (done, chop) = (0, 0); done < left.Length; chop++)
        {
            var end = Math.Min(done + chops[chop % chops.Length], done < 1000 ? 1000 : left.Length);
            if (done == 1000)
                synth.NoteOff(0, key);
            synth.Render(left.AsSpan(done, end - done), right.AsSpan(done, end - done));
            done = end;
        }
        return left;
    }

    private static float[] Perform(int seed, KernelWidth width, Interpolation interpolation, int[] chops) => ExactnessTests.Perform(
        ExactnessTests.Score(new Random(seed)), chops,
        new SoundFontSynthOptions { MaxVoices = 24, Kernel = width, Interpolation = interpolation });
}
