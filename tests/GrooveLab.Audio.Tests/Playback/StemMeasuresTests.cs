using GrooveLab.Audio.Playback;
using Xunit;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>Levels and loudness of sines, compared with their known values.</summary>
public sealed class StemMeasuresTests
{
    private const int Rate = 48_000;

    /// <summary>ITU-R BS.1770: a sine of 997 Hz at full scale in one channel reads -3.01 LUFS.</summary>
    [Theory]
    [InlineData(48_000)]
    [InlineData(32_000)]
    public void Loudness_FullSineInOneChannel_IsMinusThree(int rate)
    {
        var sound = new StemSound(Sine(997, 1, 4, rate), new float[4 * rate], rate);
        Assert.Equal(-3.01, StemMeasures.Loudness(sound, 1, 4), 0.02);
    }

    [Fact]
    public void Level_SineOnBothSides_IsThreeBelowItsPeak()
    {
        var sine = Sine(480, 0.5, 1, Rate);
        var sound = new StemSound(sine, sine, Rate);
        Assert.Equal((20 * Math.Log10(0.5)) - 3.01, StemMeasures.Level(sound, 0.2, 0.5), 0.01);
        Assert.Equal(20 * Math.Log10(0.5), StemMeasures.PeakFrom(sound, 0.5), 0.01);
        Assert.Equal(double.NegativeInfinity, StemMeasures.Level(sound, 2, 0.1));
    }

    [Fact]
    public void Attack_BurstAfterSilence_IsMeasuredFromItsBeginningOnly()
    {
        var sine = Sine(480, 0.5, 1, Rate);
        Array.Clear(sine, 0, Rate / 2);
        Array.Clear(sine, (Rate / 2) + (Rate * 6 / 100), sine.Length - (Rate / 2) - (Rate * 6 / 100));
        var sound = new StemSound(sine, sine, Rate);
        Assert.Equal((20 * Math.Log10(0.5)) - 3.01, StemMeasures.Attack(sound, 0.5), 0.05);
        Assert.Equal((20 * Math.Log10(0.5)) - 6.02, StemMeasures.Attack(sound, 0.53), 0.05);
    }

    [Fact]
    public void LastAbove_FadingSine_IsWhereItFallsBelow()
    {
        var sine = Sine(480, 1, 2, Rate);
        for (var i = 0; i < sine.Length; i++)
        {
            // Sixty decibels a second.
            sine[i] *= (float)Math.Pow(10, -3.0 * i / Rate);
        }

        var sound = new StemSound(sine, sine, Rate);
        Assert.Equal((40 - 3.01) / 60, StemMeasures.LastAbove(sound, -40)!.Value, 0.011);
        Assert.Null(StemMeasures.LastAbove(new StemSound(new float[Rate], new float[Rate], Rate), -100));
    }

    private static float[] Sine(double frequency, double amplitude, int seconds, int rate) =>
        [.. Enumerable.Range(0, seconds * rate).Select(i => (float)(amplitude * Math.Sin(2 * Math.PI * frequency * i / rate)))];
}
