using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
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

    [Fact]
    public void BarAt_VampInTheTag_RepeatsUntilItIsReleasedAndEnds()
    {
        var chart = Sections(2, 2, vamps: true) with { Form = [new FormStep(1, 1)], Tag = [new FormStep(0, 1)] };
        var (heard, endings) = Play(chart, new Gesture(string.Empty, 0, 5), passes: 1);

        Assert.Equal(["B1", "B2", "A1", "A2", "A1", "A2", "end"], heard);
        Assert.Equal(1, endings);
    }

    // Once a bug: in the tag a change meant the section that begins the form.
    [Theory]
    [InlineData("loop section", "looping B")]
    [InlineData("loop 2 2", "looping bar 2 of B")]
    [InlineData("vamp", "vamp on B until go-on")]
    public void Do_InTheTag_MeansTheSectionThatIsHeard(string words, string says)
    {
        var chart = Sections(3, 2, vamps: false) with { Tag = [new FormStep(1, 1)] };
        var state = PerformanceState.Opening(chart, new InstrumentCatalogue([]));
        var history = new PerformanceHistory(state with { Orders = state.Orders with { Passes = 1 } });
        var place = new PerformancePlace(5, 5, 6);
        var change = ChangeWords.Read(words, history.State);
        var step = history.Do(change is LoopBars loop ? loop.AsPlayed(history.State, place) : change, place);
        var (heard, index, ordinal) = (new List<string>(), 5, 5);
        for (var bar = 0; bar < 3; bar++)
        {
            index = bar == 0 ? history.Route.TakeOver(history.Route, index, ordinal) : history.Route.After(index, ordinal);
            heard.Add(history.Route.BarAt(index, ++ordinal).Section);
        }

        Assert.Equal(says, step.Result.Says);
        Assert.Equal(["B", "B", "B"], heard);
    }

    // Once a bug: the second bar of A sounded in place of the tag's second bar.
    [Theory]
    [InlineData("section A", 1, 5, "A1 A2 A3 B1 B2 B1 B2 A1 A2 A3 B1 B2 B1 B2 end")]
    [InlineData("section A", 1, 6, "A1 A2 A3 B1 B2 B1 B2 A1 A2 A3 B1 B2 B1 B2 end")]
    [InlineData("section B", 1, 5, "A1 A2 A3 B1 B2 B1 B2 B1 B2 B1 B2 end")]
    [InlineData("section B", 2, 10, "A1 A2 A3 B1 B2 A1 A2 A3 B1 B2 B1 B2 B1 B2 B1 B2 end")]
    [InlineData("section A", 1, 3, "A1 A2 A3 B1 B2 A1 A2 A3 B1 B2 B1 B2 end")]
    public void Do_SectionInTheTag_IsPlayedWhenTheTagHasEnded(string words, int passes, int at, string bars)
    {
        var chart = Sections(3, 2, vamps: false) with { Tag = [new FormStep(1, 1)] };
        var (heard, endings) = Play(chart, new Gesture(words, at, 100), passes);

        Assert.Equal(bars, string.Join(' ', heard));
        Assert.Equal(1, endings);
    }

    [Fact]
    public void Do_SectionInTheTagAfterLastTime_IsPlayedWhenTheTagHasEnded()
    {
        var chart = Sections(3, 2, vamps: false) with { Tag = [new FormStep(1, 1)] };
        var history = new PerformanceHistory(PerformanceState.Opening(chart, new InstrumentCatalogue([])));
        history.Do("last-time", new PerformancePlace(1, 1, 2));
        history.Do("section A", new PerformancePlace(5, 5, 6));
        var heard = new List<string>();
        for (var (index, ordinal) = (5, 5); history.Route.Has(index) && ordinal < 30; ordinal++)
        {
            var bar = history.Route.BarAt(index, ordinal);
            heard.Add(bar.IsEnding ? "end" : $"{bar.Section}{bar.IndexInSection + 1}");
            index = history.Route.After(index, ordinal);
        }

        Assert.Equal("B1 B2 A1 A2 A3 B1 B2 B1 B2 end", string.Join(' ', heard));
    }

    [Fact]
    public void Do_InATagOfItsOwn_RefusesALoop()
    {
        var chart = Sections(3, 2, vamps: false) with { Form = [new FormStep(0, 1)], Tag = [new FormStep(1, 1)] };
        var state = PerformanceState.Opening(chart, new InstrumentCatalogue([]));
        var history = new PerformanceHistory(state with { Orders = state.Orders with { Passes = 1 } });
        var refused = Assert.Throws<ChangeRefusedException>(() => history.Do("loop section", new PerformancePlace(3, 3, 4)));

        Assert.Contains("'B' is played only in the tag", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void BarAt_SomeBarsOfAChartWithATag_RepeatTheFormWithoutTagAndEnding()
    {
        var composer = new BarComposer(Sections(2, 1, vamps: false) with { Tag = [new FormStep(1, 2)] }, new ComposerOptions { Bars = 5 });

        Assert.Equal(["A", "A", "B", "A", "A"], Enumerable.Range(0, composer.End!.Value).Select(bar => composer.BarAt(bar).Section));
    }

    // Once a bug: the rounds were counted from the beginning of the performance, and after the last one the rest of its bars was played as the first.
    [Theory]
    [InlineData("loop section", "B1- B20 B11 B21 B12 B22 A1- A2-")]
    [InlineData("vamp", "B1- B20 B11 B21 B12 B22 A1- A2-")]
    public void Do_RepeatedLate_CountsItsRoundsFromItsStartToItsEnd(string words, string rounds) =>
        Assert.Equal(rounds, string.Join(' ', Rounds(Sections(3, 2, vamps: false), words, at: 13, released: 17, bars: 21).Skip(13)));

    [Fact]
    public void BarAt_VampOfTheChartInTheSecondPass_StartsWithItsFirstRound()
    {
        var rounds = Rounds(Sections(2, 3, vamps: true), string.Empty, at: -1, released: 5, bars: 22, last: 5);

        Assert.Equal("A10 A20 A11 A21 A12 A22 B1- B2- B3- A10 A20 A11 A21 A12", string.Join(' ', rounds.Take(14)));
    }

    // Several changes before one bar line, and changes while the band holds, lose no round; a hold stops the rounds, however long it lasts.
    [Theory]
    [InlineData("1 loop section, 6 hold, 11 go-on", "A1- A2- A30 A11 A21 A31 A12 A22 A22 A22 A22 A22 A32 A13 A23 A33")]
    [InlineData("1 loop section, 6 hold, 8 feel unit, 9 feel group, 11 go-on", "A1- A2- A30 A11 A21 A31 A12 A22 A22 A22 A22 A22 A32 A13 A23 A33")]
    [InlineData("1 loop section, 6 loop off, 6 feel unit, 6 feel group", "A1- A2- A30 A11 A21 A31 A12 A22 A32 B1- B2- A1- A2- A3- B1- B2-")]
    [InlineData("1 loop section, 6 loop off, 6 undo", "A1- A2- A30 A11 A21 A31 A12 A22 A32 A13 A23 A33 A14 A24 A34 A15")]
    [InlineData("1 loop section, 4 feel unit, 5 feel group", "A1- A2- A30 A11 A21 A31 A12 A22 A32 A13 A23 A33 A14 A24 A34 A15")]
    public void Do_ManyChanges_RoundsGoOnWhereTheyWere(string words, string rounds)
    {
        var history = new PerformanceHistory(PerformanceState.Opening(Sections(3, 2, vamps: false), new InstrumentCatalogue([])));
        var heard = new List<string>();
        for (var (index, ordinal) = (0, 0); ordinal < 16; ordinal++)
        {
            heard.Add(Round(history.Route, index, ordinal));
            int? next = null;
            foreach (var gesture in words.Split(", ").Where(gesture => gesture.StartsWith($"{ordinal} ", StringComparison.Ordinal)))
            {
                var place = new PerformancePlace(ordinal, index, ordinal + 1);
                var step = history.Do(gesture[(gesture.IndexOf(' ', StringComparison.Ordinal) + 1)..], place);
                next = step.Result.JumpTo ?? next;
            }

            index = next ?? history.Route.After(index, ordinal);
        }

        Assert.Equal(rounds, string.Join(' ', heard));
    }

    // Once a bug: a change before the bar line of a jump made the route look for its loop where it did not go.
    [Fact]
    public void Do_JumpAndAChangeBeforeTheBarLine_RoundsAreCountedFromTheJump()
    {
        var history = new PerformanceHistory(PerformanceState.Opening(Sections(3, 2, vamps: true), new InstrumentCatalogue([])) with { CountIn = false });
        var place = new PerformancePlace(4, 4, 5);
        Assert.Equal(0, history.Do("restart", place).Result.JumpTo);
        history.Do("feel unit", place);

        Assert.Equal([0, 0, 0, 1, 1, 1, 2], Enumerable.Range(5, 7).Select(ordinal => history.Route.RoundOf((ordinal - 5) % 3, ordinal)));
    }

    private static string Round(PerformanceRoute route, int index, int ordinal)
    {
        var bar = route.BarAt(index, ordinal);
        return $"{bar.Section}{bar.IndexInSection + 1}{(route.RoundOf(index, ordinal) is { } round ? round : "-")}";
    }

    private static List<string> Rounds(Chart chart, string words, int at, int released, int bars, int last = int.MaxValue)
    {
        var history = new PerformanceHistory(PerformanceState.Opening(chart, new InstrumentCatalogue([])) with { CountIn = false });
        var heard = new List<string>();
        for (var (index, ordinal) = (0, 0); ordinal < bars; ordinal++)
        {
            heard.Add(Round(history.Route, index, ordinal));
            var place = new PerformancePlace(ordinal, index, ordinal + 1);
            var next = ordinal == at ? history.Do(words, place).Result.JumpTo
                : ordinal >= released && ordinal <= last && GoOn.IsPossible(history.State, history.Route, place) ? history.Do("go-on", place).Result.JumpTo
                : null;
            index = next ?? history.Route.After(index, ordinal);
        }

        return heard;
    }

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
