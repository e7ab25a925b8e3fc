using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>A held bar: its first part sounds out of time, then the count leads back into time.</summary>
/// <remarks>Common practice, no source.</remarks>
public static class Hold
{
    /// <summary>The held part of a bar, from its bar line. The last group leads back into time; if that is the whole bar or shorter than
    /// two units, the last two units do, or the last one. A bar of one unit is held to its end.</summary>
    public static Span LengthIn(BarMeter meter)
    {
        var last = meter.GroupSizes.Count > 1 && meter.GroupSizes[^1] >= 2 ? meter.GroupSizes[^1] : 2;
        return meter.Unit * Math.Max(1, meter.Units - (last < meter.Units ? last : 1));
    }

    /// <summary>The tempi of a held bar, ascending from the bar line. It is never shorter than without the hold.</summary>
    /// <param name="meter">Its meter.</param>
    /// <param name="heldFor">The held part, above zero.</param>
    /// <param name="seconds">The duration of the held part.</param>
    /// <param name="unheld">Its tempo without the hold, which also applies after the held part.</param>
    public static IReadOnlyList<(Span Onset, Tempo Tempo)> Tempi(BarMeter meter, Span heldFor, Rational seconds, Tempo unheld)
    {
        var held = new Tempo(heldFor.Wholes * 60 / Rational.Max(seconds, unheld.Seconds(heldFor)));
        return heldFor < meter.Length ? [(Span.Zero, held), (heldFor, unheld)] : [(Span.Zero, held)];
    }
}
