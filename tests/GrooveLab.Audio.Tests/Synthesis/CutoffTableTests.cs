using GrooveLab.Audio.Synthesis;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Compares the table of tangents with the tangent function.</summary>
public class CutoffTableTests
{
    [Theory]
    [InlineData(8_000)]
    [InlineData(48_000)]
    [InlineData(384_000)]
    public void At_AnyCutoffBelowFourTenths_IsWithinATenthOfACent(int sampleRate)
    {
        var table = new CutoffTable(sampleRate);
        for (var cents = 0.3f; Hertz(cents) < 0.4 * sampleRate; cents += 1.7f)
        {
            var coefficients = table.At(cents, inverseQuality: 1.4142f);

            // a2 / a1 is the tangent, which gives the cutoff.
            var cutoff = Math.Atan(coefficients.A2 / coefficients.A1) * sampleRate / Math.PI;
            var error = 1200 * Math.Log2(cutoff / Hertz(cents));
            Assert.True(Math.Abs(error) < 0.1, $"{cents} cents: off by {error} cents");
        }
    }

    [Theory]
    [InlineData(0.1f)]
    [InlineData(1.4142f)]
    public void At_AnyCutoff_FollowsTheFormula(float inverseQuality)
    {
        var table = new CutoffTable(48_000);
        for (var cents = -500f; cents < 13_700; cents += 97)
        {
            var coefficients = table.At(cents, inverseQuality);

            var g = Math.Tan(Math.PI * Hertz(cents) / 48_000);
            var a1 = 1 / (1 + (g * (g + inverseQuality)));
            Assert.Equal(a1, coefficients.A1, 3e-4);
            Assert.Equal(g * a1, coefficients.A2, 3e-4);
            Assert.Equal(g * g * a1, coefficients.A3, 3e-4);
        }
    }

    [Theory]
    [InlineData(-20_000f, 5)]
    [InlineData(float.NegativeInfinity, 5)]
    [InlineData(30_000f, 0.49 * 48_000)]
    [InlineData(float.PositiveInfinity, 0.49 * 48_000)]
    public void At_CutoffOutOfReach_StandsForTheNearest(float cents, double hertz)
    {
        var coefficients = new CutoffTable(48_000).At(cents, inverseQuality: 1);

        var cutoff = Math.Atan(coefficients.A2 / coefficients.A1) * 48_000 / Math.PI;
        Assert.InRange(cutoff / hertz, 0.999, 1.001);
    }

    // SoundFont 2.04, section 9.2: absolute cents count from 8.176 Hz, so 6,900 are 440 Hz.
    private static double Hertz(double cents) => 440 * Math.Pow(2, (cents - 6900) / 1200);
}
