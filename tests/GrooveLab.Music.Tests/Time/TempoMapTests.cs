using CsCheck;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

public sealed class TempoMapTests
{
    private static readonly Gen<(Position From, Tempo Tempo)[]> Stretches =
        Gen.Select(Gen.Int[0, 24], Gen.Int[1, 4]).Array[1, 20].Select(raw => raw
            .Select(pair => (From: new Position(new Rational(pair.Item1, 8)), Tempo: new Tempo(pair.Item2)))
            .OrderBy(stretch => stretch.From)
            .ToArray());

    [Fact]
    public void At_AnyPlace_IsTheLastTempoWrittenThereOrBefore() =>
        Gen.Select(Stretches, Gen.Int[-8, 64]).Sample((stretches, sixteenths) =>
        {
            var map = new TempoMap(stretches);
            var place = new Position(new Rational(sixteenths, 16));
            var wanted = stretches.Where(stretch => stretch.From <= place).Select(stretch => stretch.Tempo)
                .DefaultIfEmpty(stretches.Last(stretch => stretch.From == stretches[0].From).Tempo).Last();
            Assert.Equal(wanted, map.At(place));
            Assert.Equal(map.Stretches[map.IndexAt(place)].Tempo, map.At(place));
        });

    [Fact]
    public void Stretches_AnyInput_RiseAndDifferFromTheirNeighbours() =>
        Stretches.Sample(stretches =>
        {
            var kept = new TempoMap(stretches).Stretches;
            Assert.Equal(stretches[0].From, kept[0].From);
            for (var i = 1; i < kept.Count; i++)
            {
                Assert.True(kept[i - 1].From < kept[i].From);
                Assert.NotEqual(kept[i - 1].Tempo, kept[i].Tempo);
            }
        });

    [Fact]
    public void Stretches_ChangeTakenBackAtTheSamePlace_LeavesOneStretch()
    {
        var (slow, fast) = (new Tempo(30), new Tempo(40));
        var map = new TempoMap([(Position.Zero, slow), (new Position(1), fast), (new Position(1), slow)]);

        Assert.Equal([(Position.Zero, slow)], map.Stretches);
    }

    [Fact]
    public void Constructor_NoTempoOrFallingPlaces_Throws()
    {
        var tempo = new Tempo(30);
        Assert.Throws<ArgumentException>(() => new TempoMap([]));
        Assert.Throws<ArgumentException>(() => new TempoMap([(new Position(1), tempo), (Position.Zero, tempo)]));
    }
}
