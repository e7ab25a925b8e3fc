using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

public sealed class TempoTests
{
    private static readonly Span Eighth = Span.Of(1, 8);

    [Fact]
    public void Of_EighthAt300_ReadsAsBarsOfFiveEighthsAt60()
    {
        var tempo = Tempo.Of(Eighth, 300);

        Assert.Equal(new Rational(75, 2), tempo.WholesPerMinute);
        Assert.Equal(60, tempo.PerMinute(Span.Of(5, 8)));
        Assert.Equal(tempo, Tempo.Of(Span.Of(5, 8), 60));
        Assert.Equal(new Rational(1, 5), tempo.Seconds(Eighth));
    }

    // Bar lengths computed from units per minute; arithmetic.
    [Theory]
    [InlineData(5, 8, 200, 3, 2)]
    [InlineData(7, 8, 240, 7, 4)]
    [InlineData(11, 8, 240, 11, 4)]
    [InlineData(5, 4, 120, 5, 2)]
    public void Seconds_OfABar_AreUnitsTimesSixtyOverTempo(int units, int unit, int perMinute, long above, long below) =>
        Assert.Equal(new Rational(above, below), Tempo.Of(Span.Of(1, unit), perMinute).Seconds(Span.Of(units, unit)));

    [Fact]
    public void PerMinute_AnyBeat_UndoesOf() =>
        Gen.Select(Gen.Long[1, 64], Gen.Long[1, 64], Gen.Long[1, 4000], Gen.Long[1, 10]).Sample((above, below, beats, parts) =>
        {
            var beat = Span.Of(above, below);
            var tempo = Tempo.Of(beat, new Rational(beats, parts));
            Assert.Equal(new Rational(beats, parts), tempo.PerMinute(beat));
            Assert.Equal(60 / new Rational(beats, parts), tempo.Seconds(beat));
        });

    [Fact]
    public void Constructor_NotAboveZero_Throws()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => new Tempo(0));
        Assert.Throws<ArgumentOutOfRangeException>(() => new Tempo(-1));
    }

    [Fact]
    public void Order_FasterIsGreater()
    {
        var (slow, fast) = (Tempo.Of(Eighth, 200), Tempo.Of(Eighth, 201));
        Assert.True(slow < fast && fast > slow && slow <= fast && fast >= slow);
        Assert.False(fast < slow);
    }
}
