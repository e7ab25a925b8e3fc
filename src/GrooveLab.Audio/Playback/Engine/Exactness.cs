using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// How large the numbers may be with which the audio thread computes, so that exact arithmetic cannot overflow there. What real
/// music holds lies far inside; what lies outside is rounded, on the composer's thread, to a grid much finer than a frame.
/// </summary>
/// <remarks>
/// The largest product is twice a way (61 bits) times a tempo's lower number (36) times 60 s and the rate (24): 122 of 127 bits.
/// </remarks>
internal static class Exactness
{
    /// <summary>Places that are rounded fall on whole multiples of one over this of a whole note: about 0.005 frames.</summary>
    public const long Grid = 1L << 24;

    private const long LargestOddPart = 1L << 20;
    private const long LargestTempoPart = 1L << 22;
    private const long LargestSpeedPart = 1L << 14;
    private const long FarthestPlace = 1L << 61;

    /// <summary>Whether a place can be used as it is.</summary>
    public static bool IsFine(Position place)
    {
        var below = place.Wholes.Denominator;
        var twos = System.Numerics.BitOperations.TrailingZeroCount(below);
        return twos <= 24 && (below >> twos) <= LargestOddPart && Math.Abs(place.Wholes.Numerator) < FarthestPlace;
    }

    /// <summary>The place itself where its way from an anchor can be said in few enough bits, else the nearest on the grid.</summary>
    public static Position Against(Position anchor, Position place)
    {
        var one = OddPart(anchor.Wholes.Denominator);
        var other = OddPart(place.Wholes.Denominator);
        return one * other <= LargestOddPart || one % other == 0 || other % one == 0 ? place : OnGrid(place);
    }

    /// <summary>
    /// The place so much after another; where that cannot be said in few enough bits, both are taken on the grid, from which exact
    /// arithmetic goes on.
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

    /// <summary>The place on the grid nearest to one.</summary>
    public static Position OnGrid(Position place)
    {
        var (above, below) = (place.Wholes.Numerator, place.Wholes.Denominator);
        var twice = ((Int128)above * Grid * 2) + below;
        return new Position(new Rational((long)Floor(twice, (Int128)below * 2), Grid));
    }

    /// <summary>The tempo that can be used nearest to one.</summary>
    public static Tempo Usable(Tempo tempo)
    {
        var (above, below) = (tempo.WholesPerMinute.Numerator, tempo.WholesPerMinute.Denominator);
        if (above <= LargestTempoPart && below <= LargestTempoPart)
        {
            return tempo;
        }

        // As many bits below the line as the size of the number leaves.
        var value = Math.Clamp(tempo.WholesPerMinute.ToDouble(), 0.001, 100_000);
        long part = 1;
        while (part < LargestTempoPart / 2 && value * part * 2 < LargestTempoPart)
        {
            part *= 2;
        }

        return new Tempo(new Rational(Math.Max(1, (long)Math.Round(value * part)), part));
    }

    /// <summary>Whether a speed can be used: between 1/16 and 16 of what is written, of two numbers up to 16,384.</summary>
    public static bool IsUsableSpeed(Rational speed) =>
        speed.Numerator <= LargestSpeedPart && speed.Denominator <= LargestSpeedPart
        && speed >= new Rational(1, 16) && speed <= 16;

    /// <summary>The place that a clock has reached at a frame, on the grid counted from the clock's anchor.</summary>
    public static Position PlaceReached(in FrameClock clock, long frame)
    {
        var speed = clock.Tempo.WholesPerMinute;
        var above = (Int128)(frame - clock.AnchorFrame) * speed.Numerator * Grid;
        var below = (Int128)60 * clock.SampleRate * speed.Denominator;
        var way = new Span(new Rational((long)Floor((2 * above) + below, 2 * below), Grid));
        var place = clock.Anchor + way;
        return IsFine(place) ? place : OnGrid(place);
    }

    /// <summary>Microseconds in frames, to the nearest; a half goes to the later.</summary>
    public static int Frames(long microseconds, int sampleRate) =>
        (int)Floor(((Int128)2 * microseconds * sampleRate) + 1_000_000, 2_000_000);

    private static long OddPart(long number) => number >> System.Numerics.BitOperations.TrailingZeroCount(number);

    private static Int128 Floor(Int128 above, Int128 below)
    {
        var quotient = above / below;
        return above < 0 && quotient * below != above ? quotient - 1 : quotient;
    }
}
