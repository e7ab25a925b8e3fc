using System.Diagnostics;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Numerics;

namespace GrooveLab.Music.Time;

/// <summary>An exact fraction of two 64-bit integers, always in lowest terms with a positive denominator.</summary>
/// <remarks>All positions, lengths and tempi use it. It never rounds; a result that does not fit throws <see cref="OverflowException"/>
/// instead of wrapping. The default value is zero.</remarks>
public readonly struct Rational : IEquatable<Rational>, IComparable<Rational>
{
    private readonly long _numerator;

    // Stored minus one, so that the default of the struct is 0/1, not 0/0.
    private readonly long _denominatorLessOne;

    /// <summary>Creates the fraction and reduces it.</summary>
    /// <exception cref="DivideByZeroException">The denominator is zero.</exception>
    public Rational(long numerator, long denominator)
    {
        if (denominator > 0 && numerator != long.MinValue)
        {
            this = Reduced(numerator, denominator);
        }
        else
        {
            this = new Rational((Int128)numerator, (Int128)denominator);
        }
    }

    private Rational(Int128 numerator, Int128 denominator)
    {
        if (denominator == 0)
        {
            throw new DivideByZeroException("The denominator of a fraction must not be zero.");
        }

        if (denominator < 0)
        {
            numerator = -numerator;
            denominator = -denominator;
        }

        // Almost all fractions in a piece fit 64 bits, where division is many times faster.
        if (denominator <= long.MaxValue && numerator <= long.MaxValue && numerator >= -long.MaxValue)
        {
            this = Reduced((long)numerator, (long)denominator);
            return;
        }

        var divisor = Gcd(Int128.Abs(numerator), denominator);
        _numerator = checked((long)(numerator / divisor));
        _denominatorLessOne = checked((long)(denominator / divisor)) - 1;
    }

    // Takes the two in lowest terms as they are; the flag only tells the constructors apart.
    private Rational(long numerator, long denominator, bool isReduced)
    {
        Debug.Assert(isReduced && denominator > 0);
        _numerator = numerator;
        _denominatorLessOne = denominator - 1;
    }

    /// <summary>Zero.</summary>
    public static Rational Zero => default;

    /// <summary>One.</summary>
    public static Rational One => new(1, 1);

    /// <summary>The numerator; carries the sign.</summary>
    public long Numerator => _numerator;

    /// <summary>The denominator, at least 1.</summary>
    public long Denominator => _denominatorLessOne + 1;

    /// <summary>The sign: -1, 0 or 1.</summary>
    public int Sign => Math.Sign(_numerator);

    /// <summary>True for a whole number.</summary>
    public bool IsInteger => _denominatorLessOne == 0;

    /// <summary>A whole number as a fraction.</summary>
    public static implicit operator Rational(long value) => new(value, 1, true);

    /// <summary>Sum.</summary>
    public static Rational operator +(Rational a, Rational b)
    {
        if (AreSmall(a, b))
        {
            return a._denominatorLessOne == b._denominatorLessOne
                ? Reduced(a._numerator + b._numerator, a.Denominator)
                : Reduced((a._numerator * b.Denominator) + (b._numerator * a.Denominator), a.Denominator * b.Denominator);
        }

        return a._denominatorLessOne == b._denominatorLessOne
            ? new Rational((Int128)a._numerator + b._numerator, a.Denominator)
            : new Rational(
                checked(((Int128)a._numerator * b.Denominator) + ((Int128)b._numerator * a.Denominator)),
                checked((Int128)a.Denominator * b.Denominator));
    }

    /// <summary>Difference.</summary>
    public static Rational operator -(Rational a, Rational b)
    {
        if (AreSmall(a, b))
        {
            return a._denominatorLessOne == b._denominatorLessOne
                ? Reduced(a._numerator - b._numerator, a.Denominator)
                : Reduced((a._numerator * b.Denominator) - (b._numerator * a.Denominator), a.Denominator * b.Denominator);
        }

        return new Rational(
            checked(((Int128)a._numerator * b.Denominator) - ((Int128)b._numerator * a.Denominator)),
            checked((Int128)a.Denominator * b.Denominator));
    }

    /// <summary>Negation.</summary>
    public static Rational operator -(Rational a) =>
        a._numerator == long.MinValue ? new(-(Int128)a._numerator, (Int128)a.Denominator) : new(-a._numerator, a.Denominator, true);

    /// <summary>Product.</summary>
    public static Rational operator *(Rational a, Rational b) => AreSmall(a, b)
        ? Reduced(a._numerator * b._numerator, a.Denominator * b.Denominator)
        : new((Int128)a._numerator * b._numerator, (Int128)a.Denominator * b.Denominator);

    /// <summary>Quotient.</summary>
    /// <exception cref="DivideByZeroException"><paramref name="b"/> is zero.</exception>
    public static Rational operator /(Rational a, Rational b) => AreSmall(a, b) && b._numerator > 0
        ? Reduced(a._numerator * b.Denominator, a.Denominator * b._numerator)
        : new((Int128)a._numerator * b.Denominator, (Int128)a.Denominator * b._numerator);

    /// <summary>Equality.</summary>
    public static bool operator ==(Rational a, Rational b) => a.Equals(b);

    /// <summary>Inequality.</summary>
    public static bool operator !=(Rational a, Rational b) => !a.Equals(b);

    /// <summary>Order.</summary>
    public static bool operator <(Rational a, Rational b) => a.CompareTo(b) < 0;

    /// <summary>Order.</summary>
    public static bool operator >(Rational a, Rational b) => a.CompareTo(b) > 0;

    /// <summary>Order.</summary>
    public static bool operator <=(Rational a, Rational b) => a.CompareTo(b) <= 0;

    /// <summary>Order.</summary>
    public static bool operator >=(Rational a, Rational b) => a.CompareTo(b) >= 0;

    /// <summary>The smaller of two.</summary>
    public static Rational Min(Rational a, Rational b) => a <= b ? a : b;

    /// <summary>The larger of two.</summary>
    public static Rational Max(Rational a, Rational b) => a >= b ? a : b;

    /// <summary>Reads "3", "-3", "3/8" or "1.5".</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out Rational value)
    {
        value = default;
        if (text is null)
        {
            return false;
        }

        var body = text.Trim();
        var slash = body.IndexOf('/');
        if (slash >= 0)
        {
            if (TryLong(body[..slash], out var above) && TryLong(body[(slash + 1)..], out var below) && below > 0)
            {
                value = new Rational(above, below);
                return true;
            }

            return false;
        }

        var dot = body.IndexOf('.');
        if (dot < 0)
        {
            if (!TryLong(body, out var whole))
            {
                return false;
            }

            value = whole;
            return true;
        }

        var decimals = body.Length - dot - 1;
        if (decimals is < 1 or > 9 || !body[(dot + 1)..].All(char.IsAsciiDigit))
        {
            return false;
        }

        if (!TryLong(body.Remove(dot, 1), out var digits) || Math.Abs(digits) > 999_999_999_999)
        {
            return false;
        }

        var scale = 1L;
        for (var i = 0; i < decimals; i++)
        {
            scale *= 10;
        }

        value = new Rational(digits, scale);
        return true;
    }

    /// <summary>The largest whole number not above the fraction.</summary>
    public long Floor()
    {
        var quotient = _numerator / Denominator;
        return _numerator < 0 && quotient * Denominator != _numerator ? quotient - 1 : quotient;
    }

    /// <summary>The smallest whole number not below the fraction.</summary>
    public long Ceiling() => IsInteger ? _numerator : checked(Floor() + 1);

    /// <summary>The nearest whole number; halves round up.</summary>
    public long Round()
    {
        var floor = Floor();
        var above = _numerator - ((Int128)floor * Denominator);
        return 2 * above >= Denominator ? checked(floor + 1) : floor;
    }

    /// <summary>The remainder after subtracting whole multiples of <paramref name="step"/>; at least 0 and less than the step.</summary>
    public Rational Modulo(Rational step)
    {
        if (AreSmall(this, step) && step._numerator != 0)
        {
            var one = step._numerator * Denominator;
            var rest = _numerator * step.Denominator % one;
            return Reduced(rest != 0 && (rest < 0) != (one < 0) ? rest + one : rest, Denominator * step.Denominator);
        }

        var below = (Int128)Denominator * step.Denominator;
        var each = (Int128)step._numerator * Denominator;
        var left = (Int128)_numerator * step.Denominator % each;
        return new Rational(left != 0 && (left < 0) != (each < 0) ? left + each : left, below);
    }


    /// <summary>The absolute value.</summary>
    public Rational Abs() => _numerator < 0 ? -this : this;

    /// <summary>The number itself if its denominator is at most <paramref name="largestDenominator"/>, otherwise the nearest with that one.</summary>
    /// <param name="largestDenominator">Over 0.</param>
    public Rational Within(long largestDenominator) => TimesWithin(One, largestDenominator);

    /// <summary>The product if its denominator is at most <paramref name="largestDenominator"/>, otherwise the nearest number with that one; also where the exact product
    /// has more digits than a fraction holds.</summary>
    /// <param name="factor">The factor.</param>
    /// <param name="largestDenominator">Over 0.</param>
    /// <exception cref="OverflowException">The number is too large.</exception>
    public Rational TimesWithin(Rational factor, long largestDenominator)
    {
        var (numerator, denominator) = ((Int128)_numerator * factor._numerator, (Int128)Denominator * factor.Denominator);
        var divisor = Gcd(Int128.Abs(numerator), denominator);
        (numerator, denominator) = (numerator / divisor, denominator / divisor);
        if (denominator <= largestDenominator)
        {
            return new Rational(numerator, denominator);
        }

        // Room for the next multiplication; the digits lost are far below the last one kept.
        while (denominator > Int128.One << 62)
        {
            (numerator, denominator) = (numerator / 2, denominator / 2);
        }

        var whole = numerator / denominator;
        var parts = (numerator - (whole * denominator)) * largestDenominator;
        var nearest = ((2 * Int128.Abs(parts)) + denominator) / (2 * denominator);
        return new Rational((whole * largestDenominator) + (parts < 0 ? -nearest : nearest), largestDenominator);
    }

    /// <summary>The nearest floating-point number, for statistics and display only.</summary>
    public double ToDouble() => (double)_numerator / Denominator;

    /// <inheritdoc/>
    public bool Equals(Rational other) => _numerator == other._numerator && _denominatorLessOne == other._denominatorLessOne;

    /// <inheritdoc/>
    public override bool Equals([NotNullWhen(true)] object? obj) => obj is Rational other && Equals(other);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(_numerator, _denominatorLessOne);

    /// <inheritdoc/>
    public int CompareTo(Rational other) => _denominatorLessOne == other._denominatorLessOne
        ? _numerator.CompareTo(other._numerator)
        : AreSmall(this, other)
        ? (_numerator * other.Denominator).CompareTo(other._numerator * Denominator)
        : ((Int128)_numerator * other.Denominator).CompareTo((Int128)other._numerator * Denominator);

    /// <summary>"3/8", or "3" for a whole number.</summary>
    public override string ToString() =>
        IsInteger
            ? _numerator.ToString(CultureInfo.InvariantCulture)
            : string.Create(CultureInfo.InvariantCulture, $"{_numerator}/{Denominator}");

    private static bool TryLong(string text, out long value) =>
        long.TryParse(text.Trim(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out value) && value != long.MinValue;

    private static Int128 Gcd(Int128 a, Int128 b)
    {
        while (b != 0)
        {
            if (a <= long.MaxValue && b <= long.MaxValue)
            {
                return Gcd((long)a, (long)b);
            }

            (a, b) = (b, a % b);
        }

        return a == 0 ? Int128.One : a;
    }

    // Almost all fractions in a piece are so small that products of their terms, and a sum of two such products, fit 64 bits, where
    // arithmetic is many times faster than in 128.
    private static bool AreSmall(Rational a, Rational b) => unchecked(
        (((ulong)(a._numerator + (1L << 31)) | (ulong)(b._numerator + (1L << 31))) >> 32) == 0
        && (a._denominatorLessOne | b._denominatorLessOne) < int.MaxValue);

    private static Rational Reduced(long numerator, long denominator)
    {
        if (denominator == 1)
        {
            return new(numerator, 1, true);
        }

        if (BitOperations.IsPow2(denominator))
        {
            // Most lengths in music are halves of halves; shifts are many times faster than divisions.
            var halves = Math.Min(BitOperations.TrailingZeroCount(numerator), BitOperations.TrailingZeroCount(denominator));
            return new(numerator >> halves, denominator >> halves, true);
        }

        var common = Gcd(Math.Abs(numerator), denominator);
        return common == 1 ? new(numerator, denominator, true) : new(numerator / common, denominator / common, true);
    }

    private static long Gcd(long a, long b)
    {
        while (b != 0)
        {
            if (a <= uint.MaxValue && b <= uint.MaxValue)
            {
                return Gcd((uint)a, (uint)b);
            }

            (a, b) = (b, a % b);
        }

        return a == 0 ? 1 : a;
    }

    private static uint Gcd(uint a, uint b)
    {
        while (b != 0)
        {
            (a, b) = (b, a % b);
        }

        return a == 0 ? 1 : a;
    }
}
