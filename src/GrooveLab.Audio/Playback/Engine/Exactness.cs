using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// The bounds for the numbers on the audio thread, within which exact arithmetic cannot overflow. Real
/// music is far inside them; numbers outside are rounded on the composer thread to a grid much finer than a frame.
/// </summary>
/// <remarks>
/// The largest product is twice a distance (61 bits) times a tempo's denominator (36) times 60 s and the rate (24): 122 of 127 bits.
/// </remarks>
internal static class Exactness
{
    /// <summary>Rounded places are whole multiples of 1 / this of a whole note: about 0.005 frames.</summary>
    public const long Grid = 1L << 24;

    private const long LargestOddPart = 1L << 20;
    private const long LargestTempoPart = 1L << 22;
    private const long LargestSpeedPart = 1L << 14;
    private const long FarthestPlace = 1L << 61;

    /// <summary>True if a place can be used unchanged.</summary>
    public static bool IsFine(Position place)
    {
        var below = place.Wholes.Denominator;
        var twos = System.Numerics.BitOperations.TrailingZeroCount(below);
        return twos <= 24 && (below >> twos) <= LargestOddPart && Math.Abs(place.Wholes.Numerator) < FarthestPlace;
    }

    /// <summary>The place itself if its distance from an anchor fits in the bits, otherwise the nearest place on the grid.</summary>
    public static Position Against(Position anchor, Position place)
    {
        var one = OddPart(anchor.Wholes.Denominator);
        var other = OddPart(place.Wholes.Denominator);
        return one * other <= LargestOddPart || one % other == 0 || other % one == 0 ? place : OnGrid(place);
    }

    /// <summary>
    /// The place at a distance from another; if it does not fit in the bits, both are rounded to the grid, on which exact
    /// arithmetic continues.
    /// </summary>
    public static Position Add(Position place, Span way)
    {
        var other = new Position(way.Wholes);
        var fits = IsFine(other) && Against(place, other) == other;
        if (fits && IsFine(place + way))
        {
            return place + way;
        }

        return OnGrid(place) + new Span(OnGrid(other).Wholes);
    }

    /// <summary>The nearest place on the grid.</summary>
    public static Position OnGrid(Position place)
    {
        var (above, below) = (place.Wholes.Numerator, place.Wholes.Denominator);
        var twice = ((Int128)above * Grid * 2) + below;
        return new Position(new Rational((long)Floor(twice, (Int128)below * 2), Grid));
    }

    /// <summary>The nearest usable tempo.</summary>
    public static Tempo Usable(Tempo tempo)
    {
        var (above, below) = (tempo.WholesPerMinute.Numerator, tempo.WholesPerMinute.Denominator);
        if (above <= LargestTempoPart && below <= LargestTempoPart)
        {
            return tempo;
        }

        // As many bits for the denominator as the size of the number leaves.
        var value = Math.Clamp(tempo.WholesPerMinute.ToDouble(), 0.001, 100_000);
        long part = 1;
        while (part < LargestTempoPart / 2 && value * part * 2 < LargestTempoPart)
        {
            part *= 2;
        }

        return new Tempo(new Rational(Math.Max(1, (long)Math.Round(value * part)), part));
    }

    /// <summary>True if a speed can be used: from 1/16 to 16, with numerator and denominator up to 16,384.</summary>
    public static bool IsUsableSpeed(Rational speed) =>
        speed.Numerator <= LargestSpeedPart && speed.Denominator <= LargestSpeedPart
        && speed >= new Rational(1, 16) && speed <= 16;

    /// <summary>The place that a clock has reached at a frame, on the grid from the clock's anchor.</summary>
    public static Position PlaceReached(in FrameClock clock, long frame)
    {
        var speed = clock.Tempo.WholesPerMinute;
        var above = (Int128)(frame - clock.AnchorFrame) * speed.Numerator * Grid;
        var below = (Int128)60 * clock.SampleRate * speed.Denominator;
        var way = new Span(new Rational((long)Floor((2 * above) + below, 2 * below), Grid));
        var place = clock.Anchor + way;
        return IsFine(place) ? place : OnGrid(place);
    }

    /// <summary>Microseconds in frames, to the nearest; a half rounds up.</summary>
    public static int Frames(long microseconds, int sampleRate) =>
        (int)Floor(((Int128)2 * microseconds * sampleRate) + 1_000_000, 2_000_000);

    private static long OddPart(long number) => number >> System.Numerics.BitOperations.TrailingZeroCount(number);

    private static Int128 Floor(Int128 above, Int128 below)
    {
        var quotient = above / below;
        return above < 0 && quotient * below != above ? quotient - 1 : quotient;
    }
}
