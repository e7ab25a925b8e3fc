using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Tests.Ensemble;
using GrooveLab.Music.Tests.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Feel;

/// <summary>Long and short groups in a ratio below 3:2, as Goldberg 2015 measured.</summary>
public sealed class GroupTimingTests
{
    private static readonly Tempo Tempo = Tempo.Of(Span.Of(1, 8), 240);

    [Theory]
    [InlineData("7/8 3+2+2", 1.4)]
    [InlineData("7/8 2+2+3", 1.3)]
    [InlineData("5/8 2+3", 1.2)]
    [InlineData("11/8 2+2+3+2+2", 1.45)]
    public void ShiftMicroseconds_OfGroupStarts_MakesTheRatio(string name, double ratio)
    {
        var meter = Meters.Read(name);
        var timing = GroupTiming.Of(ratio, meter);
        var starts = meter.GroupStartUnits.Select(unit => At(unit)).Append(At(meter.Units)).ToArray();
        var lengths = starts.Zip(starts.Skip(1), (from, to) => to - from).ToArray();

        Assert.Equal(meter.Units * 250_000, lengths.Sum(), 1);
        Assert.All(
            lengths.Zip(meter.GroupSizes).Where(group => group.Second == 3),
            three => Assert.All(lengths.Zip(meter.GroupSizes).Where(group => group.Second == 2), two => Assert.Equal(ratio, three.First / two.First, 0.001)));

        double At(int unit) => (unit * 250_000) + timing.ShiftMicroseconds(meter.Unit * unit, Tempo);
    }

    [Fact]
    public void ShiftMicroseconds_AnyMeter_KeepsOrderAndBarLines() => Gen.Select(Meters.All, Gen.Double[GroupTiming.Least, GroupTiming.Even]).Sample((meter, ratio) =>
    {
        var timing = GroupTiming.Of(ratio, meter);
        var places = Enumerable.Range(0, (2 * meter.Units) + 1)
            .Select(half => (half * 125_000) + timing.ShiftMicroseconds(meter.Unit * new Rational(half, 2), Tempo.Of(meter.Unit, 240))).ToArray();
        Assert.Equal((0, meter.Units * 250_000), (places[0], places[^1]));
        Assert.All(places.Zip(places.Skip(1)), pair => Assert.True(pair.Second > pair.First));
    });

    [Fact]
    public void ShiftMicroseconds_EvenRatioOrEqualGroups_IsNone()
    {
        foreach (var (name, ratio) in new[] { ("7/8 2+2+3", GroupTiming.Even), ("9/8 3+3+3", 1.3), ("5/4", 1.3) })
        {
            var meter = Meters.Read(name);
            Assert.All(Enumerable.Range(0, meter.Units), unit => Assert.Equal(0, GroupTiming.Of(ratio, meter).ShiftMicroseconds(meter.Unit * unit, Tempo)));
        }
    }

    [Fact]
    public void GroupRatio_OfAChart_MovesAllPartsAlikeButTheCount()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("7/8 2+2+3", "Am", "G"))) with { Parts = Players.Band(), Looseness = 0, GroupRatio = 1.35 };
        var notes = new Played(chart, new ComposerOptions { CountIn = false }).Form.SelectMany(bar => bar.Notes).ToList();

        Assert.All(notes.Where(note => note.Role == Role.Count), note => Assert.Equal(0, note.OffsetMicroseconds));
        Assert.All(
            notes.Where(note => note.Role != Role.Count).GroupBy(note => note.Onset),
            place => Assert.Single(place.Select(note => note.OffsetMicroseconds).Distinct()));
        Assert.Contains(notes, note => note.Role == Role.Pulse && note.OffsetMicroseconds > 10_000);
    }
}
