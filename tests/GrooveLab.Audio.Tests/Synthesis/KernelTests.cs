using CsCheck;
using GrooveLab.Audio.Synthesis;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Every kernel says the same as the scalar one, and the same however it is chopped.</summary>
public class KernelTests
{
    // Full scale is 1; the house's limit between vector widths.
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

    private static float[] Perform(int seed, KernelWidth width, Interpolation interpolation, int[] chops) => ExactnessTests.Perform(
        ExactnessTests.Score(new Random(seed)), chops,
        new SoundFontSynthOptions { MaxVoices = 24, Kernel = width, Interpolation = interpolation });
}
