using CsCheck;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Tests.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Feel;

public sealed class AccentPlanTests
{
    private static readonly Gen<BarGroupPlace> Places =
        Gen.Select(Gen.Int[0, 5], Gen.Int[0, 7], Gen.Int[0, 4]).Select(place => new BarGroupPlace(place.Item1, place.Item2, place.Item2 + 1 + place.Item3));

    // The project's table. Common practice, no source.
    [Theory]
    [InlineData(FeltLevel.Unit, 9, 8, 1)]
    [InlineData(FeltLevel.Group, 32, 28, 22)]
    [InlineData(FeltLevel.Bar, 36, 30, 1)]
    [InlineData(FeltLevel.BarGroup, 40, 2, 1)]
    public void StepsAt_FiveEighths_IsTheTable(FeltLevel felt, int barGroup, int bar, int group)
    {
        var meter = Meters.Read("5/8 3+2");
        var (first, second) = (new BarGroupPlace(0, 0, 4), new BarGroupPlace(0, 1, 4));

        Assert.Equal(barGroup, AccentPlan.StepsAt(meter, felt, first, 0));
        Assert.Equal(bar, AccentPlan.StepsAt(meter, felt, second, 0));
        Assert.Equal(group, AccentPlan.StepsAt(meter, felt, second, 3));
        Assert.Equal([0, 0, 0], new[] { 1, 2, 4 }.Select(unit => AccentPlan.StepsAt(meter, felt, second, unit)));
    }

    [Fact]
    public void StepsAt_AnyMeter_HigherLevelsAreNeverSofter() =>
        Gen.Select(Meters.All, Places, Gen.Enum<FeltLevel>()).Sample(
            (meter, place, felt) =>
            {
                var steps = Steps(meter, felt, place);
                for (var unit = 0; unit < meter.Units; unit++)
                {
                    var depth = meter.UnitDepths[unit];
                    Assert.InRange(steps[unit], 0, 40);
                    Assert.Equal(depth > meter.Grouping.Depth, steps[unit] == 0);
                    for (var other = 0; other < meter.Units; other++)
                    {
                        Assert.True(
                            depth >= meter.UnitDepths[other] || steps[unit] >= steps[other],
                            $"unit {other} ({steps[other]}) is louder than unit {unit} ({steps[unit]}), which stands above it");
                    }
                }
            },
            iter: 2000);

    [Fact]
    public void StepsAt_UnitGroupAndBarFelt_TheBarLineStandsOut() =>
        Gen.Select(Meters.All, Places, Gen.OneOf(FeltLevel.Unit, FeltLevel.Group, FeltLevel.Bar)).Sample((meter, place, felt) =>
        {
            var steps = Steps(meter, felt, place);
            Assert.All(
                Enumerable.Range(1, meter.Units - 1).Where(unit => meter.UnitDepths[unit] > 1 || !meter.Grouping.IsNested),
                unit => Assert.True(steps[0] > steps[unit]));
        });

    [Fact]
    public void StepsAt_OpeningBarOfAGroup_IsLouderThanTheOthers() =>
        Gen.Select(Meters.All, Gen.Enum<FeltLevel>(), Gen.Int[1, 7]).Sample((meter, felt, index) => Assert.True(
            AccentPlan.StepsAt(meter, felt, new BarGroupPlace(0, 0, 8), 0)
            > AccentPlan.StepsAt(meter, felt, new BarGroupPlace(0, index, 8), 0)));

    [Fact]
    public void StepsAt_MovingTheFeltLevelUp_WidensBarLineAgainstUnitsAndFlattensGroups()
    {
        var meter = Meters.Read("7/8 2+2+3");
        var place = new BarGroupPlace(0, 0, 4);
        int At(FeltLevel felt, int unit) => AccentPlan.StepsAt(meter, felt, place, unit);

        Assert.True(At(FeltLevel.Unit, 0) < At(FeltLevel.Group, 0));
        Assert.True(At(FeltLevel.Group, 0) < At(FeltLevel.Bar, 0));
        Assert.True(At(FeltLevel.Bar, 0) < At(FeltLevel.BarGroup, 0));
        // In two or three the groups are accented; in one they recede.
        Assert.True(At(FeltLevel.Group, 2) >= At(FeltLevel.Unit, 2) + 8);
        Assert.True(At(FeltLevel.Bar, 2) <= At(FeltLevel.Unit, 2));
        Assert.True(At(FeltLevel.BarGroup, 2) <= At(FeltLevel.Bar, 2));
    }

    // The project's limits, for the velocities of pulse (62) and roll (54). Decibels by the curve of SoundFonts.
    [Fact]
    public void StepsAt_AnyMeter_InDecibels_TellTheLevelsApart() => Meters.All.Sample(meter =>
    {
        foreach (var part in new[] { 54, 62 })
        {
            foreach (var bar in Enumerable.Range(0, 4))
            {
                var place = new BarGroupPlace(0, bar, 4);
                var units = Above(FeltLevel.Unit, part, place);
                Assert.All(units.Skip(1), decibels => Assert.InRange(decibels, 0, 1));
                Assert.InRange(units[0], 0, 3);
                Assert.All(Starts(meter), unit => Assert.True(Above(FeltLevel.Group, part, place)[unit] >= 5));
                Assert.True(Above(FeltLevel.Bar, part, place)[0] >= 6);
                Assert.All(Above(FeltLevel.Bar, part, place).Skip(1), decibels => Assert.InRange(decibels, 0, 2));
                Assert.True(bar > 0 || Above(FeltLevel.BarGroup, part, place)[0] >= 7.5);
                Assert.All(Above(FeltLevel.BarGroup, part, place).Skip(1), decibels => Assert.InRange(decibels, 0, 1));
            }
        }

        double[] Above(FeltLevel felt, int part, BarGroupPlace place)
        {
            var quiet = part + AccentPlan.EvennessOf(meter, felt, 4);
            return [.. Steps(meter, felt, place).Select(steps => 40 * Math.Log10((double)(quiet + steps) / quiet))];
        }

        static IEnumerable<int> Starts(BarMeter meter) => meter.GroupStartUnits.Where(unit => meter.UnitDepths[unit] <= meter.Grouping.Depth);
    });

    // Amplitude follows the square of velocity, so the sum of fourth powers in a bar is its energy; some steps more or less compensate
    // for damping, spread strums and a thinner bass, as measured.
    [Fact]
    public void EvennessOf_AnyMeter_KeepsTheBarsEnergyUpToWhatDampingTakes() => Meters.All.Sample(meter =>
    {
        Assert.Equal(2, AccentPlan.EvennessOf(meter, FeltLevel.Unit, 4));
        var slow = meter.Unit >= Span.Of(1, 4);
        var quick = meter.Unit <= Span.Of(1, 16);
        foreach (var (felt, more) in new[]
        {
            (FeltLevel.Group, meter.Units <= 4 ? -1 : meter.Units < 9 ? -2 : -5), (FeltLevel.Bar, slow ? -1 : quick ? -4 : -3), (FeltLevel.BarGroup, slow ? 5 : quick ? 0 : 1),
        })
        {
            var shift = AccentPlan.EvennessOf(meter, felt, 4) - more;
            var nearest = Away(shift);
            Assert.True(Math.Abs(shift) == 16 || (nearest <= Away(shift - 1) && nearest <= Away(shift + 1)), $"{meter} {felt}: {shift}");

            double Away(int by) => Math.Abs(Energy(felt, by) - Energy(FeltLevel.Unit, 0));
        }

        double Energy(FeltLevel felt, int by) => Enumerable.Range(0, 4)
            .Sum(bar => Steps(meter, felt, new BarGroupPlace(0, bar, 4)).Sum(steps => Math.Pow(62 + by + steps, 4)));
    });

    [Fact]
    public void StepsAt_SevenEighths_NothingFlipsFromBarToBar()
    {
        foreach (var grouping in new[] { "2+2+3", "3+2+2", "2+3+2", "none" })
        {
            var meter = Meters.Read("7/8 " + grouping);
            foreach (var felt in Enum.GetValues<FeltLevel>())
            {
                var first = Steps(meter, felt, new BarGroupPlace(0, 1, 16)).Skip(1).ToArray();
                for (var bar = 2; bar < 16; bar++)
                {
                    Assert.Equal(first, Steps(meter, felt, new BarGroupPlace(0, bar, 16)).Skip(1));
                }

                if (felt != FeltLevel.BarGroup)
                {
                    Assert.Single(Enumerable.Range(1, 15).Select(bar => AccentPlan.StepsAt(meter, felt, new BarGroupPlace(0, bar, 16), 0)).Distinct());
                }
            }
        }
    }

    [Fact]
    public void StepsAt_NestedGroups_StandBetweenBarAndSmallestGroup()
    {
        var meter = Meters.Read("9/8 (2+2)+(2+3)");
        var place = new BarGroupPlace(0, 1, 4);

        foreach (var felt in new[] { FeltLevel.Unit, FeltLevel.Group, FeltLevel.Bar })
        {
            var steps = Steps(meter, felt, place);
            Assert.True(steps[0] > steps[4] && steps[4] > steps[2] && steps[2] > steps[1], string.Join(' ', steps));
        }
    }

    [Fact]
    public void StepsAt_ThreesAmongTwos_GetExtraWeight()
    {
        var place = new BarGroupPlace(0, 1, 4);
        var mixed = Steps(Meters.Read("7/8 2+2+3"), FeltLevel.Group, place);
        var even = Steps(Meters.Read("9/8 3+3+3"), FeltLevel.Group, place);

        Assert.Equal(mixed[2] + AccentPlan.LongGroup, mixed[4]);
        Assert.Equal(even[3], even[6]);
        Assert.Equal(mixed[2], even[3]);
    }

    private static int[] Steps(BarMeter meter, FeltLevel felt, BarGroupPlace place) =>
        [.. Enumerable.Range(0, meter.Units).Select(unit => AccentPlan.StepsAt(meter, felt, place, unit))];
}
