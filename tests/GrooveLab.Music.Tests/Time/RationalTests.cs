using System.Globalization;
using System.Numerics;
using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

/// <summary>The exact fraction, against fractions of unlimited integers.</summary>
public sealed class RationalTests
{
    private const long Iterations = 20_000;

    [Fact]
    public void Constructor_AnyTwoIntegers_IsInLowestTermsOrOverflows() =>
        Gen.Select(Rationals.Longs, Rationals.Longs.Where(below => below != 0)).Sample(
            (above, below) => Agree(new Fraction(above, below), () => new Rational(above, below)), iter: Iterations);

    [Fact]
    public void Constructor_ZeroBelow_Throws() => Assert.Throws<DivideByZeroException>(() => new Rational(1, 0));

    [Fact]
    public void Default_OfTheStruct_IsZeroOverOne()
    {
        Assert.Equal(0, default(Rational).Numerator);
        Assert.Equal(1, default(Rational).Denominator);
        Assert.Equal(Rational.Zero, new Rational(0, -7));
    }

    [Fact]
    public void Arithmetic_AnyTwoFractions_IsExactOrOverflows() =>
        Gen.Select(Rationals.Any, Rationals.Any).Sample(
            (a, b) =>
            {
                var (x, y) = (Fraction.Of(a), Fraction.Of(b));
                Agree(x + y, () => a + b);
                Agree(x - y, () => a - b);
                Agree(x * y, () => a * b);
                if (b.Sign != 0)
                {
                    Agree(x / y, () => a / b);
                }
            },
            iter: Iterations);

    [Fact]
    public void Divide_ByZero_Throws() => Assert.Throws<DivideByZeroException>(() => Rational.One / Rational.Zero);

    [Fact]
    public void Add_PastTheLargest_OverflowsInsteadOfWrapping()
    {
        Assert.Throws<OverflowException>(() => new Rational(long.MaxValue, 1) + 1);
        Assert.Throws<OverflowException>(() => new Rational(1, long.MaxValue) + new Rational(1, long.MaxValue - 1));
        Assert.Throws<OverflowException>(() => -new Rational(long.MinValue, 1));
    }

    [Fact]
    public void CompareTo_AnyTwoFractions_OrdersByValue() =>
        Gen.Select(Rationals.Any, Rationals.Any).Sample(
            (a, b) =>
            {
                var order = (Fraction.Of(a).Above * b.Denominator).CompareTo(Fraction.Of(b).Above * a.Denominator);
                Assert.Equal(order, Math.Sign(a.CompareTo(b)));
                Assert.Equal(order < 0, a < b);
                Assert.Equal(order > 0, a > b);
                Assert.Equal(order <= 0, a <= b);
                Assert.Equal(order >= 0, a >= b);
                Assert.Equal(order == 0, a == b);
                Assert.Equal(order != 0, a != b);
                Assert.Equal(order <= 0 ? a : b, Rational.Min(a, b));
                Assert.Equal(order >= 0 ? a : b, Rational.Max(a, b));
                Assert.True(order != 0 || a.GetHashCode() == b.GetHashCode());
            },
            iter: Iterations);

    [Fact]
    public void FloorCeilingRound_AnyFraction_AreTheNearestWholeNumbers() =>
        Rationals.Any.Sample(
            a =>
            {
                var x = Fraction.Of(a);
                Assert.Equal(x.Floor(), a.Floor());
                Assert.Equal(-new Fraction(-x.Above, x.Below).Floor(), a.Ceiling());
                var nearest = new Fraction((2 * x.Above) + x.Below, 2 * x.Below).Floor();
                if (nearest <= long.MaxValue)
                {
                    Assert.Equal(nearest, a.Round());
                }
            },
            iter: Iterations);

    [Theory]
    [InlineData(7, 2, 3, 4, 4)]
    [InlineData(-7, 2, -4, -3, -3)]
    [InlineData(5, 3, 1, 2, 2)]
    [InlineData(-5, 3, -2, -1, -2)]
    [InlineData(6, 1, 6, 6, 6)]
    public void FloorCeilingRound_WorkedValues_AHalfGoesUp(long above, long below, long floor, long ceiling, long round)
    {
        var value = new Rational(above, below);
        Assert.Equal((floor, ceiling, round), (value.Floor(), value.Ceiling(), value.Round()));
    }

    [Fact]
    public void Modulo_AnyStepAboveZero_LeavesFromZeroUpToTheStep() =>
        Gen.Select(Rationals.Any, Rationals.Any.Where(step => step.Sign > 0)).Sample(
            (a, step) =>
            {
                var (x, y) = (Fraction.Of(a), Fraction.Of(step));
                var times = (x / y).Floor();
                var left = x - (y * new Fraction(times, 1));
                Assert.True(left.Above.Sign >= 0 && (left - y).Above.Sign < 0);
                Agree(left, () => a.Modulo(step));
            },
            iter: Iterations);

    [Fact]
    public void Abs_AnyMusicalFraction_DropsTheSign() =>
        Rationals.Musical.Sample(a =>
        {
            Assert.Equal(Math.Abs(a.Numerator), a.Abs().Numerator);
            Assert.Equal(a.Denominator, a.Abs().Denominator);
            Assert.Equal(a.Sign * a.Abs(), a);
        });

    [Fact]
    public void TryParse_WhatToStringWrote_IsTheSameFraction() =>
        Rationals.Any.Where(a => a.Numerator != long.MinValue).Sample(a =>
        {
            Assert.True(Rational.TryParse(a.ToString(), out var read));
            Assert.Equal(a, read);
        });

    [Fact]
    public void TryParse_DecimalsUpToNine_AreExact() =>
        Gen.Select(Gen.Long[-999_999, 999_999], Gen.Int[1, 9]).Sample((digits, places) =>
        {
            var text = ((decimal)digits / (decimal)BigInteger.Pow(10, places))
                .ToString("F" + places.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);
            Assert.True(Rational.TryParse(text, out var read), text);
            Assert.True(new Fraction(digits, BigInteger.Pow(10, places)).Is(read), text);
        });

    [Theory]
    [InlineData("3", 3, 1)]
    [InlineData("-3", -3, 1)]
    [InlineData(" 3 / 8 ", 3, 8)]
    [InlineData("6/8", 3, 4)]
    [InlineData("1.5", 3, 2)]
    [InlineData("-0.125", -1, 8)]
    [InlineData(".5", 1, 2)]
    public void TryParse_WhatPeopleWrite_IsRead(string text, long above, long below)
    {
        Assert.True(Rational.TryParse(text, out var read));
        Assert.Equal(new Rational(above, below), read);
    }

    [Theory]
    [InlineData("")]
    [InlineData(null)]
    [InlineData("three")]
    [InlineData("1/0")]
    [InlineData("1/-2")]
    [InlineData("1/2/3")]
    [InlineData("1.")]
    [InlineData("1.-5")]
    [InlineData("1e3")]
    [InlineData("0x10")]
    [InlineData("1,5")]
    [InlineData("0.1234567891")]
    [InlineData("99999999999999999999")]
    public void TryParse_AnythingElse_IsRefused(string? text)
    {
        Assert.False(Rational.TryParse(text, out var read));
        Assert.Equal(Rational.Zero, read);
    }

    [Fact]
    public void ToDouble_MusicalFractions_IsTheNearestDouble() =>
        Rationals.Musical.Sample(a => Assert.Equal((double)a.Numerator / a.Denominator, a.ToDouble()));

    private static void Agree(Fraction wanted, Func<Rational> made)
    {
        if (wanted.FitsLongs)
        {
            var value = made();
            Assert.True(wanted.Is(value), $"{value} instead of {wanted.Above}/{wanted.Below}");
        }
        else
        {
            Assert.Throws<OverflowException>(() => made());
        }
    }

    [Fact]
    public void TimesWithin_DenominatorInReach_IsExact()
    {
        Assert.Equal(Rational.One, new Rational(3, 7).TimesWithin(new Rational(7, 3), 10));
        Assert.Equal(new Rational(10, 21), new Rational(5, 7).TimesWithin(new Rational(2, 3), 21));
    }

    [Theory]
    [InlineData(1, 300, 0, 100)]
    [InlineData(2, 300, 1, 100)]
    [InlineData(-2, 300, -1, 100)]
    [InlineData(701, 300, 234, 100)]
    public void TimesWithin_LargerDenominator_IsTheNearest(long numerator, long denominator, long wanted, long over) =>
        Assert.Equal(new Rational(wanted, over), new Rational(numerator, denominator).Within(over));

    // The exact product has 38 digits above and below the line.
    [Fact]
    public void TimesWithin_ProductOfTooManyDigits_IsTheNearest()
    {
        var (one, other) = (new Rational(long.MaxValue, long.MaxValue - 1), new Rational(3 * (long.MaxValue / 4), long.MaxValue / 4 - 1));

        Assert.Throws<OverflowException>(() => one * other);
        Assert.Equal(3, one.TimesWithin(other, 1_000_000).ToDouble(), 1e-6);
    }
}
