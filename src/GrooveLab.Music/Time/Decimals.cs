using System.Globalization;

namespace GrooveLab.Music.Time;

/// <summary>Rationals as decimal text.</summary>
public static class Decimals
{
    private const string AllDigits = "0.############################";

    // Nine decimals beside the nineteen digits of a whole part fit the 28 digits of a decimal.
    private const int MostDecimals = 9;

    /// <summary>A number with all its decimals: "0.00001"; null if they do not end within nine.</summary>
    public static string? Exact(Rational value)
    {
        var (rest, twos, fives) = (value.Denominator, 0, 0);
        for (; rest % 2 == 0; rest /= 2)
        {
            twos++;
        }

        for (; rest % 5 == 0; rest /= 5)
        {
            fives++;
        }

        return rest == 1 && Math.Max(twos, fives) <= MostDecimals ? Text(Quotient(value)) : null;
    }

    /// <summary>
    /// A number for a message: exact if <see cref="Exact"/> is, otherwise rounded to three decimals, or to three significant digits if it is
    /// below 0.1. Never 0 for another number.
    /// </summary>
    public static string Of(Rational value)
    {
        if (Exact(value) is { } exact)
        {
            return exact;
        }

        var near = Quotient(value);
        var decimals = 2 - (int)Math.Floor(Math.Log10((double)Math.Abs(near)));
        return Text(Math.Round(near, Math.Clamp(decimals, 3, 28)));
    }

    private static decimal Quotient(Rational value) => (decimal)value.Numerator / value.Denominator;

    private static string Text(decimal number) => number.ToString(AllDigits, CultureInfo.InvariantCulture);
}
