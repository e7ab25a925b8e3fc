namespace GrooveLab.Music.Time;

/// <summary>Converts places to sample frames from an anchor (a place on a whole frame) and a tempo. Each frame is computed from the
/// anchor, never summed from rounded steps, so even after a thousand bars the error is under half a frame.</summary>
/// <param name="Anchor">The place of the anchor.</param>
/// <param name="AnchorFrame">The frame of that place.</param>
/// <param name="Tempo">The tempo from there on.</param>
/// <param name="SampleRate">Frames per second (Hz).</param>
public readonly record struct FrameClock(Position Anchor, long AnchorFrame, Tempo Tempo, int SampleRate)
{
    /// <summary>The frame nearest to <paramref name="place"/>; halves round up to the later frame.</summary>
    public long FrameAt(Position place)
    {
        // 128 bits throughout: a place in an hour of music times 60 s times 192 kHz does not fit 64.
        var way = place - Anchor;
        var speed = Tempo.WholesPerMinute;
        var above = checked((Int128)way.Wholes.Numerator * speed.Denominator * 60 * SampleRate);
        var below = checked((Int128)way.Wholes.Denominator * speed.Numerator);
        return checked(AnchorFrame + (long)FloorDivide(checked((2 * above) + below), checked(2 * below)));
    }


    /// <summary>The exact place at <paramref name="frame"/>.</summary>
    public Position PlaceAt(long frame) =>
        Anchor + new Span(new Rational(frame - AnchorFrame, 60L * SampleRate) * Tempo.WholesPerMinute);

    private static Int128 FloorDivide(Int128 above, Int128 below)
    {
        var quotient = above / below;
        return above < 0 && quotient * below != above ? quotient - 1 : quotient;
    }
}
