using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Feel;

/// <summary>Moves the middle of each counted quarter (or, lightly, of each eighth) later, for the whole band alike. A cell is one unit,
/// so nothing moves across a group or bar line, and adjoining notes stay adjoining.</summary>
/// <remarks>The short note lasts at least 0.1 s, as Friberg and Sundström (2002) measured in players; which note values swing is common
/// practice, no source.</remarks>
public sealed class Swing
{
    private static readonly Rational ShortestNote = new(1, 10);

    // The share of a quarter's swing that the sixteenths of an x/8 get.
    private static readonly Rational Lilt = new(1, 5);

    private readonly Span _cell;
    private readonly Rational _middle;

    private Swing(Span cell, Rational middle)
    {
        _cell = cell;
        _middle = middle;
    }

    /// <summary>No swing.</summary>
    public static Swing Straight { get; } = new(Span.Of(1, 4), new Rational(1, 2));

    /// <summary>How much longer the first half of a cell is than the second; 1 without swing.</summary>
    public Rational Ratio => _middle / (Rational.One - _middle);

    /// <summary>True without swing.</summary>
    public bool IsStraight => _middle == new Rational(1, 2);

    /// <summary>The swing of a bar.</summary>
    /// <param name="ratio">Long half to short half, 1 to 3.</param>
    /// <param name="meter">Its meter: quarters swing, eighths lilt, other units stay even.</param>
    /// <param name="tempo">Its tempo, in which the short note limits the ratio.</param>
    public static Swing Of(Rational ratio, BarMeter meter, Tempo tempo)
    {
        var wanted = meter.Signature.Denominator switch
        {
            4 => ratio,
            8 => Rational.One + ((ratio - Rational.One) * Lilt),
            _ => Rational.One,
        };

        // Rounded to twelfths, so that places stay readable fractions.
        var most = new Rational((((tempo.Seconds(meter.Unit) / ShortestNote) - Rational.One) * 12).Floor(), 12);
        var used = Rational.Max(Rational.One, Rational.Min(wanted, most));
        return new Swing(meter.Unit, used / (used + Rational.One));
    }

    /// <summary>The played place for a written place in the bar.</summary>
    public Span Played(Span place)
    {
        if (IsStraight)
        {
            return place;
        }

        var cells = place / _cell;
        var whole = new Rational(cells.Floor(), 1);
        var inside = cells - whole;
        var half = new Rational(1, 2);
        var moved = inside <= half
            ? inside * _middle * 2
            : _middle + ((inside - half) * 2 * (Rational.One - _middle));
        return _cell * (whole + moved);
    }
}
