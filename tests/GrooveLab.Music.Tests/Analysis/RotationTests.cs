using CsCheck;
using GrooveLab.Music.Analysis;
using Xunit;

namespace GrooveLab.Music.Tests.Analysis;

public sealed class RotationTests
{
    // The long-short five, 1 0 0 1 0, started on its fourth eighth, reads 1 0 1 0 0: read it from its third place on. Worked by hand.
    [Fact]
    public void Fits_AProfileBegunLater_AreBestWhereThePatternBegins()
    {
        var fits = Rotation.Fits([1, 0, 1, 0, 0], [1, 0, 0, 1, 0]);

        Assert.Equal(2, fits.ToList().IndexOf(fits.Max()));
        Assert.Equal(1, fits[2], 12);
    }

    [Fact]
    public void Fits_OfAnyRotatedPattern_AreOneWhereItBegins() => Gen.Select(Gen.Double[0, 9].Array[2, 20], Gen.Int[0, 19]).Where((pattern, _) => pattern.Max() - pattern.Min() > 0.1)
        .Sample((pattern, by) =>
        {
            var rotated = pattern.Select((_, at) => pattern[(at + pattern.Length - (by % pattern.Length)) % pattern.Length]).ToArray();
            Assert.Equal(1, Rotation.Fits(rotated, pattern)[by % pattern.Length], 9);
        });

    [Fact]
    public void Fits_OfTwoLengths_IsRefused() => Assert.Throws<ArgumentException>(() => Rotation.Fits([1, 0, 1], [1, 0]));
}
