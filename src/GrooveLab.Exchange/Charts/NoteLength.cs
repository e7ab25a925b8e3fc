using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes the length of a tune note: "3" and "1.5" units of the meter, "1/8" and "1/4." of a whole note.</summary>
internal static class NoteLength
{
    private const int Finest = 1_000_000;
    private const int MostDots = 3;

    /// <summary>Reads a length; null if it is in units and the unit is unknown. False if it is not a length.</summary>
    public static bool TryRead(string text, Span? unit, out Span? length)
    {
        length = null;
        var body = text.Trim();
        var dots = 0;
        while (body.EndsWith('.') && dots < MostDots)
        {
            dots++;
            body = body[..^1];
        }

        if (!Rational.TryParse(body, out var number) || number.Sign <= 0 || number.Numerator > Finest || number.Denominator > Finest)
        {
            return false;
        }

        var dotted = new Rational((1L << (dots + 1)) - 1, 1L << dots);
        length = body.Contains('/') ? new Span(number * dotted) : unit * (number * dotted);
        return true;
    }

    /// <summary>A number of units, such as "3" or "1.5"; null if the length is not a multiple of 1/2 unit.</summary>
    public static string? InUnits(Span length, Span unit, bool decimals)
    {
        var units = length / unit;
        return units.IsInteger ? units.ToString()
            : decimals && units.Denominator is 2 or 4 or 8 ? units.ToDouble().ToString("0.###", CultureInfo.InvariantCulture)
            : null;
    }

    /// <summary>A fraction of a whole note: "1/8", "1/1", and a dotted one as "1/4." or as "3/8".</summary>
    public static string OfAWhole(Span length, bool dots)
    {
        var wholes = length.Wholes;
        for (var count = 1; dots && count < MostDots; count++)
        {
            var plain = wholes / new Rational((1L << (count + 1)) - 1, 1L << count);
            if (plain.Numerator == 1 && long.IsPow2(plain.Denominator))
            {
                return $"1/{plain.Denominator}{new string('.', count)}";
            }
        }

        return string.Create(CultureInfo.InvariantCulture, $"{wholes.Numerator}/{wholes.Denominator}");
    }
}
