using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

/// <summary>Lengths and places: only meaningful operators exist. The sum of two places does not compile, which no compiled test can
/// show.</summary>
public sealed class SpanAndPositionTests
{
    private static readonly Gen<Span> Spans = Rationals.Musical.Select(wholes => new Span(wholes));
    private static readonly Gen<Position> Positions = Rationals.Musical.Select(wholes => new Position(wholes));

    [Fact]
    public void PositionMinusPosition_IsTheSpanThatLeadsBack() =>
        Gen.Select(Positions, Positions).Sample((a, b) =>
        {
            var way = a - b;
            Assert.Equal(a, b + way);
            Assert.Equal(b, a - way);
            Assert.Equal(-way, b - a);
        });

    [Fact]
    public void Operators_OnSpans_FollowTheFractions() =>
        Gen.Select(Spans, Spans, Rationals.Musical.Where(times => times.Sign != 0)).Sample((a, b, times) =>
        {
            Assert.Equal(a.Wholes + b.Wholes, (a + b).Wholes);
            Assert.Equal(a.Wholes - b.Wholes, (a - b).Wholes);
            Assert.Equal(a, a * times / times);
            Assert.Equal(a.Wholes.CompareTo(b.Wholes), a.CompareTo(b));
            Assert.Equal(a < b, b > a);
            Assert.Equal(a <= b, !(a > b));
            Assert.Equal(a >= b, !(a < b));
            Assert.Equal(a <= b ? (a, b) : (b, a), (Span.Min(a, b), Span.Max(a, b)));
            if (b != Span.Zero)
            {
                Assert.Equal(a, b * (a / b));
            }
        });

    [Fact]
    public void Order_OfPositions_FollowsTheFractions() =>
        Gen.Select(Positions, Positions).Sample((a, b) =>
        {
            Assert.Equal(a.Wholes.CompareTo(b.Wholes), a.CompareTo(b));
            Assert.Equal(a < b, b > a);
            Assert.Equal(a <= b, !(a > b));
            Assert.Equal(a >= b, !(a < b));
        });

    [Fact]
    public void TryParse_WrittenSpan_IsTheSameSpan() =>
        Spans.Sample(span =>
        {
            Assert.True(Span.TryParse(span.ToString(), out var read));
            Assert.Equal(span, read);
        });

    [Fact]
    public void SevenEighths_TimesEight_IsSevenWholes()
    {
        Assert.Equal(new Span(7), Span.Of(7, 8) * 8);
        Assert.Equal(Position.Zero + new Span(7), new Position(7));
        Assert.Equal(new Rational(7, 5), Span.Of(7, 8) / Span.Of(5, 8));
    }
}
