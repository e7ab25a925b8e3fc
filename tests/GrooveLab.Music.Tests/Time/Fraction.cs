using System.Numerics;
using CsCheck;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Tests.Time;

/// <summary>An unlimited fraction, written independently of the program's own, to check it.</summary>
internal readonly record struct Fraction
{
    public Fraction(BigInteger above, BigInteger below)
    {
        if (below.Sign < 0)
        {
            (above, below) = (-above, -below);
        }

        var divisor = BigInteger.GreatestCommonDivisor(above, below);
        Above = above / divisor;
        Below = below / divisor;
    }

    public BigInteger Above { get; }

    public BigInteger Below { get; }

    public bool FitsLongs => Above >= long.MinValue && Above <= long.MaxValue && Below <= long.MaxValue;

    public static Fraction operator +(Fraction a, Fraction b) => new((a.Above * b.Below) + (b.Above * a.Below), a.Below * b.Below);

    public static Fraction operator -(Fraction a, Fraction b) => new((a.Above * b.Below) - (b.Above * a.Below), a.Below * b.Below);

    public static Fraction operator *(Fraction a, Fraction b) => new(a.Above * b.Above, a.Below * b.Below);

    public static Fraction operator /(Fraction a, Fraction b) => new(a.Above * b.Below, a.Below * b.Above);

    public static Fraction Of(Rational value) => new(value.Numerator, value.Denominator);

    public BigInteger Floor()
    {
        var quotient = BigInteger.DivRem(Above, Below, out var rest);
        return rest.Sign < 0 ? quotient - 1 : quotient;
    }

    public bool Is(Rational value) => Above == value.Numerator && Below == value.Denominator;
}

/// <summary>Fractions to try: many small ones as in music, some huge ones, some at the limits of 32 and 64 bits.</summary>
internal static class Rationals
{
    private static readonly Gen<long> Edges = Gen.OneOf(
        long.MinValue, long.MinValue + 1, long.MaxValue, long.MaxValue - 1, -1L, 0L, 1L, 2L, 1L << 32, 1L << 62);

    // The limits up to which fractions are computed in 64 bits.
    private static readonly Gen<long> Edges32 = Gen.Select(
        Gen.OneOf((long)int.MinValue, int.MaxValue, uint.MaxValue, -uint.MaxValue, -int.MaxValue), Gen.Long[-2, 2], (edge, more) => edge + more);

    public static readonly Gen<long> Longs = Gen.Frequency((6, Gen.Long[-5000, 5000]), (2, Gen.Long), (1, Edges), (2, Edges32));

    public static readonly Gen<Rational> Musical = Gen.Select(Gen.Long[-4000, 4000], Gen.Long[1, 5040], (above, below) => new Rational(above, below));

    public static readonly Gen<Rational> Any = Gen.Select(
        Longs, Longs.Where(below => below is not (0 or long.MinValue)), (above, below) => (above, below))
        .Where(parts => new Fraction(parts.above, parts.below).FitsLongs)
        .Select(parts => new Rational(parts.above, parts.below));
}
