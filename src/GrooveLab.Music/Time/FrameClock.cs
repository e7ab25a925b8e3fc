namespace GrooveLab.Music.Time;

/// <summary>
/// Turns places into sample frames: an anchor (a place that stands on a whole frame) and a tempo. Every frame is computed from the
/// anchor, never summed from rounded steps, so a thousand bars later the error is still under half a frame.
/// </summary>
/// <param name="Anchor">A place.</param>
/// <param name="AnchorFrame">The frame on which it stands.</param>
/// <param name="Tempo">The tempo from there on.</param>
/// <param name="SampleRate">Frames a second, in Hz.</param>
public readonly record struct FrameClock(Position Anchor, long AnchorFrame, Tempo Tempo, int SampleRate)
{
    /// <summary>The frame nearest to <paramref name="place"/>; a half goes to the later frame.</summary>
    public long FrameAt(Position place)
    {
        // 128 bits throughout: a place in an hour of music times 60 s times 192 kHz does not fit 64.
        var way = place - Anchor;
        var speed = Tempo.WholesPerMinute;
        var above = checked((Int128)way.Wholes.Numerator * speed.Denominator * 60 * SampleRate);
        var below = checked((Int128)way.Wholes.Denominator * speed.Numerator);
        return checked(AnchorFrame + (long)FloorDivide(checked((2 * above) + below), checked(2 * below)));
    }


    /// <summary>The place that has been reached at <paramref name="frame"/>, exactly.</summary>
    public Position PlaceAt(long frame) =>
        Anchor + new Span(new Rational(frame - AnchorFrame, 60L * SampleRate) * Tempo.WholesPerMinute);

    private static Int128 FloorDivide(Int128 above, Int128 below)
    {
        var quotient = above / below;
        return above < 0 && quotient * below != above ? quotient - 1 : quotient;
    }
}
