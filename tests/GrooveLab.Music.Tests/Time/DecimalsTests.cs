using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

public sealed class DecimalsTests
{
    [Theory]
    [InlineData(0, 1, "0")]
    [InlineData(60, 1, "60")]
    [InlineData(-3, 8, "-0.375")]
    [InlineData(1, 100_000, "0.00001")]
    [InlineData(1, 1_000_000_000, "0.000000001")]
    [InlineData(99_999_123_456, 1_000_000, "99999.123456")]
    [InlineData(400, 3, "133.333")]
    [InlineData(7, 1_200_000, "0.00000583")]
    [InlineData(1, long.MaxValue, "0.000000000000000000108")]
    [InlineData(long.MaxValue, 1_000_000_000, "9223372036.854775807")]
    public void Of_AnyNumber_IsWrittenOutAndNeverZeroForAnother(long numerator, long denominator, string expected) =>
        Assert.Equal(expected, Decimals.Of(new Rational(numerator, denominator)));

    [Fact]
    public void Exact_Decimals_AreReadBackAsTheSameNumber() =>
        Gen.Select(Gen.Long[-1_000_000_000, 1_000_000_000], Gen.Int[0, 9]).Sample((digits, places) =>
        {
            var number = new Rational(digits, (long)Math.Pow(10, places));
            Assert.True(Rational.TryParse(Decimals.Exact(number)!, out var same) && same == number, $"{number}: {Decimals.Exact(number)}");
        });

    [Theory]
    [InlineData(1, 3)]
    [InlineData(1, 1024)]
    public void Exact_NumbersThatDoNotEndWithinNineDecimals_AreNull(long numerator, long denominator) =>
        Assert.Null(Decimals.Exact(new Rational(numerator, denominator)));
}
