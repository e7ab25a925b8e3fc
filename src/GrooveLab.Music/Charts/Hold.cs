using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>How a bar is held: its first part sounds out of time, then its count leads back.</summary>
/// <remarks>Common practice, no source.</remarks>
public static class Hold
{
    /// <summary>
    /// How much of a bar is held, from its bar line. The last group leads back into time; where that is all the bar or less than two units, the
    /// last two units do, or the last one. A bar of one unit is held to its end.
    /// </summary>
    public static Span LengthIn(BarMeter meter)
    {
        var last = meter.GroupSizes.Count > 1 && meter.GroupSizes[^1] >= 2 ? meter.GroupSizes[^1] : 2;
        return meter.Unit * Math.Max(1, meter.Units - (last < meter.Units ? last : 1));
    }

    /// <summary>The tempi of a bar that is held, rising from the bar line. It is never shorter than it would be without a hold.</summary>
    /// <param name="meter">Its meter.</param>
    /// <param name="heldFor">How much of it is held, above zero.</param>
    /// <param name="seconds">How long that lasts.</param>
    /// <param name="unheld">The tempo that it would have had, in which the rest of it goes.</param>
    public static IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi(BarMeter meter, Span heldFor, Rational seconds, Tempo unheld)
    {
        var held = new Tempo(heldFor.Wholes * 60 / Rational.Max(seconds, unheld.Seconds(heldFor)));
        return heldFor < meter.Length ? [(Span.Zero, held), (heldFor, unheld)] : [(Span.Zero, held)];
    }
}
