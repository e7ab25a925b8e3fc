using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Tests.Charts;
using Xunit;

namespace GrooveLab.Music.Tests.Performance;

public sealed class PerformanceRouteTests
{
    private static readonly string[] Holding = ["", "vamp", "loop section", "loop seam", "hold", "jump B", "section A", "loop 1 1"];

    // Once a bug: after a vamp that had been released, the first bar of the form sounded in place of the last chord.
    [Fact]
    public void BarAt_VampOfTheChartReleased_EndsWithTheEnding()
    {
        var (heard, endings) = Play(Sections(2, 2, vamps: true), new Gesture(string.Empty, 0, 3), passes: 1);

        Assert.Equal(["A1", "A2", "A1", "A2", "B1", "B2", "end"], heard);
        Assert.Equal(1, endings);
    }

    [Fact]
    public void After_AnythingReleasedAtAnyBar_EndsWithOneEnding() =>
        Gen.Select(Gen.Int[1, 3], Gen.Int[1, 3], Gen.Bool, Gen.OneOf(Holding), Gen.Int[0, 5], Gen.Int[1, 7], Gen.Int[1, 2], Gen.Bool)
            .Sample(
                (first, second, vamps, words, at, waits, passes, tag) =>
                {
                    var chart = Sections(first, second, vamps) with { Tag = tag ? [new FormStep(1, 1)] : [] };
                    var (heard, endings) = Play(chart, new Gesture(words, at, at + waits), passes);

                    // A hold over the last chord lets bars pass until it is released.
                    var isOne = words == "hold" ? heard.SkipWhile(bar => bar != "end").All(bar => bar == "end") : endings == 1;
                    Assert.True(heard[^1] == "end" && isOne, string.Join(' ', heard));
                },
                iter: 400);

    private static Chart Sections(int first, int second, bool vamps) => Sheet.Chart(
        Sheet.Section("A", Sheet.Bars("7/8 3+2+2", ["Am", "G", "F"])[..first]) with { Vamp = vamps },
        Sheet.Section("B", Sheet.Bars("5/8 3+2", ["Am", "G", "F"])[..second]));

    // Plays bar by bar as the engine does, with a change at one bar; from another on, whatever waits is released.
    private static (List<string> Heard, int Endings) Play(Chart chart, Gesture gesture, int passes)
    {
        var state = PerformanceState.Opening(chart with { Times = passes }, new InstrumentCatalogue([]));
        var history = new PerformanceHistory(state with { Orders = state.Orders with { Passes = passes } });
        var (heard, endings, ordinal, index) = (new List<string>(), 0, 0, 0);
        while (history.Route.Has(index))
        {
            Assert.True(ordinal < 100, string.Join(' ', heard));
            var bar = history.Route.BarAt(index, ordinal);
            heard.Add(bar.IsEnding ? "end" : $"{bar.Section}{bar.IndexInSection + 1}");
            endings += bar.IsEnding ? 1 : 0;
            var place = new PerformancePlace(ordinal, index, ordinal + 1);
            var next = (int?)null;
            if (ordinal == gesture.At && gesture.Words.Length > 0 && !bar.IsEnding)
            {
                next = history.Do(gesture.Words, place).Result.JumpTo;
            }
            else if (ordinal >= gesture.ReleasedAt && GoOn.IsPossible(history.State, history.Route, place))
            {
                next = history.Do("go-on", place).Result.JumpTo;
            }

            index = next ?? history.Route.After(index, ordinal);
            ordinal++;
        }

        return (heard, endings);
    }

    private sealed record Gesture(string Words, int At, int ReleasedAt);
}
