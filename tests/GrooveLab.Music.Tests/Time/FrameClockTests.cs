using System.Numerics;
using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

/// <summary>Frames from places, against exact arithmetic of unlimited integers.</summary>
public sealed class FrameClockTests
{
    private static readonly Gen<FrameClock> Clocks = Gen.Select(
        Rationals.Musical,
        Gen.Long[-1_000_000, 10_000_000_000],
        Gen.Select(Gen.Long[1, 400_000], Gen.Long[1, 5040]),
        Gen.OneOf(8000, 44_100, 48_000, 96_000, 192_000),
        (anchor, frame, tempo, rate) => new FrameClock(
            new Position(anchor), frame, new Tempo(new Rational(tempo.Item1, tempo.Item2)), rate));

    [Fact]
    public void FrameAt_AnyPlace_IsTheExactNearestFrame() =>
        Gen.Select(Clocks, Rationals.Musical).Sample(
            (clock, place) => Assert.Equal(Nearest(clock, new Position(place)), clock.FrameAt(new Position(place))),
            iter: 20_000);

    [Fact]
    public void FrameAt_ExactlyBetweenTwoFrames_TakesTheLater()
    {
        // A whole note lasts 60 s at one per minute, so 1/120 of it is half a second: 4000.5 frames at 8001 Hz.
        var clock = new FrameClock(Position.Zero, 0, new Tempo(1), 8001);

        Assert.Equal(4001, clock.FrameAt(new Position(new Rational(1, 120))));
        Assert.Equal(-4000, clock.FrameAt(new Position(new Rational(-1, 120))));
    }

    [Fact]
    public void FrameAt_TenThousandBarsOfSeven_NeverDrifts()
    {
        var clock = new FrameClock(Position.Zero, 9600, Tempo.Of(Span.Of(1, 8), 233), 44_100);
        var place = Position.Zero;
        for (var bar = 0; bar <= 10_000; bar++)
        {
            Assert.Equal(Nearest(clock, place), clock.FrameAt(place));
            place += Span.Of(7, 8);
        }

        // Summing rounded bar lengths would have an error far above a frame.
        var summed = 9600 + (10_000 * (clock.FrameAt(new Position(new Rational(7, 8))) - 9600));
        Assert.True(Math.Abs(summed - clock.FrameAt(new Position(new Rational(70_000, 8)))) > 100);
    }

    [Fact]
    public void FrameAt_PlacesInOrder_FallIntoWindowsWithoutLossOrDouble() =>
        Gen.Select(Clocks, Gen.Long[0, 4000].Array[1, 60], Gen.Int[1, 4000].Array[1, 40]).Sample((clock, steps, windows) =>
        {
            var places = steps.Order().Select(step => clock.Anchor + Span.Of(step, 672)).ToArray();
            var frames = places.Select(clock.FrameAt).ToArray();
            for (var i = 1; i < frames.Length; i++)
            {
                Assert.True(frames[i - 1] <= frames[i]);
            }

            var start = clock.AnchorFrame;
            var found = new List<long>();
            for (var i = 0; start <= frames[^1]; i++)
            {
                // The last window is stretched so that a few windows cover a long time.
                var end = i < windows.Length ? start + windows[i] : Math.Max(start + 1, frames[^1] + 1);
                found.AddRange(frames.Where(frame => frame >= start && frame < end));
                start = end;
            }

            Assert.Equal(frames, found);
        });

    [Fact]
    public void PlaceAt_AnyFrame_LeadsBackToThatFrame() =>
        Gen.Select(Clocks, Gen.Long[-10_000_000, 10_000_000]).Sample((clock, away) =>
            Assert.Equal(clock.AnchorFrame + away, clock.FrameAt(clock.PlaceAt(clock.AnchorFrame + away))));

    [Fact]
    public void FrameAt_ManyClocksOneAfterAnother_StaysWithinHalfAFrameForEachChange()
    {
        var clock = new FrameClock(Position.Zero, 0, new Tempo(30), 48_000);
        var exact = new Fraction(0, 1);
        var place = Position.Zero;
        var step = Span.Of(1, 14);
        for (var change = 1; change <= 500; change++)
        {
            exact += Fraction.Of(clock.Tempo.Seconds(step)) * new Fraction(48_000, 1);
            place += step;
            clock = new FrameClock(place, clock.FrameAt(place), new Tempo(new Rational(210 + (change % 97), 7)), clock.SampleRate);
            var error = new Fraction(clock.AnchorFrame, 1) - exact;
            Assert.True(BigInteger.Abs(error.Above) * 2 <= error.Below * change);
        }
    }

    private static BigInteger Nearest(FrameClock clock, Position place)
    {
        var frames = Fraction.Of(place.Wholes - clock.Anchor.Wholes) * new Fraction(60L * clock.SampleRate, 1)
            / Fraction.Of(clock.Tempo.WholesPerMinute);
        return clock.AnchorFrame + (frames + new Fraction(1, 2)).Floor();
    }
}
