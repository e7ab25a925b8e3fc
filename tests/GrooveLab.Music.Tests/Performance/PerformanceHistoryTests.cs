using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Performance;

public sealed class PerformanceHistoryTests
{
    private static readonly PerformancePlace InBarSix = new(5, 5, 6);

    // Once a bug: A was replaced by whatever was heard when it was called back.
    [Theory]
    [InlineData("keep a", "hear a")]
    [InlineData("keep a", "hear other")]
    [InlineData("hear other", "hear other")]
    public void HearA_AfterChanges_BringsBackWhatWasKept(string keep, string hear)
    {
        var history = History();
        Do(history, "up 2");
        var kept = history.State.Chart;
        Do(history, keep);
        Do(history, "feel bar");
        Do(history, "tempo 300");
        var changed = history.State;

        Do(history, hear);

        Assert.Equal((kept, Rational.One), (history.State.Chart, history.State.Speed));
        Assert.Equal(ComparedSide.A, history.Hearing);
        Do(history, "hear b");
        Assert.Equal((changed.Chart, changed.Speed), (history.State.Chart, history.State.Speed));
        Assert.Equal(ComparedSide.B, history.Hearing);
    }

    [Fact]
    public void HearA_ChangedWhileHearingIt_IsStillWhatWasKeptAndBIsTheChangedVersion()
    {
        var history = History();
        var kept = history.State.Chart;
        Do(history, "hear other");
        Do(history, "up 2");
        Do(history, "hear other");
        Do(history, "up 5");
        var changed = history.State.Chart;
        Assert.Null(history.Hearing);

        Do(history, "hear other");
        Assert.Equal((kept, ComparedSide.A), (history.State.Chart, history.Hearing));
        Do(history, "hear other");
        Assert.Equal((changed, ComparedSide.B), (history.State.Chart, history.Hearing));
    }

    [Fact]
    public void HearB_KeptOnRequestThenChanged_IsWhatWasKeptAndUndoBringsTheChangesBack()
    {
        var history = History();
        Do(history, "keep a");
        Do(history, "up 2");
        Do(history, "keep b");
        var b = history.State.Chart;
        Do(history, "up 2");
        var changed = history.State.Chart;

        var heard = Do(history, "hear a");
        Assert.EndsWith("; undo brings back your changes", heard, StringComparison.Ordinal);
        Do(history, "hear b");
        Assert.Equal(b, history.State.Chart);
        Do(history, "undo");
        Do(history, "undo");
        Assert.Equal(changed, history.State.Chart);
    }

    // Once a bug: "hearing A" stayed on the screen while something else was heard.
    [Fact]
    public void Hearing_ChangedSinceItWasKept_IsNeitherUntilItIsUndone()
    {
        var history = History();
        Do(history, "keep a");
        Assert.Equal(ComparedSide.A, history.Hearing);

        Do(history, "up 2");
        Assert.Null(history.Hearing);

        Do(history, "undo");
        Assert.Equal(ComparedSide.A, history.Hearing);
    }

    // Once a bug: the first comparison went back to the first bar of the piece.
    [Fact]
    public void HearA_KeptInAnotherBarGroup_StartsWithTheCurrentOne()
    {
        var history = History();
        Do(history, "keep a");
        Do(history, "up 2");

        Assert.StartsWith("A from verse, bar 5", Do(history, "hear a"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("hear a")]
    [InlineData("hear b")]
    public void Hear_NothingKept_SaysHowToKeepIt(string words)
    {
        var refused = Assert.Throws<ChangeRefusedException>(() => History().Do(words, InBarSix));
        Assert.Equal($"nothing is kept as {words[^1..].ToUpperInvariant()}; 'keep {words[^1]}' keeps what you hear", refused.Message);
    }

    // Once a bug: "in E major" for a chart that is then in E dorian.
    [Theory]
    [InlineData("key E", "in E dorian")]
    [InlineData("key Bb minor", "in Bb dorian")]
    public void SetKey_OfAModalChart_SaysTheModeThatItHas(string words, string says)
    {
        var history = History("D dorian");
        Assert.Equal(says, Do(history, words));
        Assert.Equal("in " + history.State.Chart.Key, says);
    }

    // Once a bug: it went round to the other end.
    [Fact]
    public void SetFeel_AtEitherEnd_IsRefusedAndSaysWhatIsFelt()
    {
        var history = History();
        Do(history, "feel unit");
        var narrower = Assert.Throws<ChangeRefusedException>(() => history.Do("feel narrower", InBarSix));
        Assert.Equal("you already feel the narrowest level, in five", narrower.Message);

        var felt = new List<FeltLevel>();
        for (var i = 0; i < 3; i++)
        {
            Do(history, "feel wider");
            felt.Add(history.State.BarAt(InBarSix).Felt);
        }

        Assert.Equal([FeltLevel.Group, FeltLevel.Bar, FeltLevel.BarGroup], felt);
        var wider = Assert.Throws<ChangeRefusedException>(() => history.Do("feel wider", InBarSix));
        Assert.Equal("you already feel the widest level, in four-bar groups", wider.Message);
    }

    // Once a bug: one beat a minute is 8 % of twelve bar groups.
    [Theory]
    [InlineData("feel unit", 240)]
    [InlineData("feel bar", 48)]
    [InlineData("feel bar-group", 12)]
    public void SmallStep_AnyFeltLevel_IsOneToTwoPerCent(string feel, int perMinute)
    {
        var history = History();
        Do(history, feel);
        var felt = Felt(history);
        Assert.Equal(perMinute, felt.PerMinute);

        var step = TempoGoal.SmallStep(felt);
        history.Do(new SetTempo(TempoGoal.By(step)), InBarSix);
        var faster = Felt(history).PerMinute / felt.PerMinute;
        history.Do(new SetTempo(TempoGoal.By(-step)), InBarSix);

        Assert.InRange(faster.ToDouble(), 1.01, 1.02);
        Assert.InRange((Felt(history).PerMinute / felt.PerMinute).ToDouble(), 0.9999, 1.0001);
    }

    [Theory]
    [InlineData("tempo by 0.5", "12.5")]
    [InlineData("tempo by -0.25", "11.75")]
    [InlineData("tempo by 1", "13")]
    public void SetTempo_StepWithDecimals_AddsIt(string words, string figure)
    {
        var history = History();
        Do(history, "feel bar-group");

        Do(history, words);

        Assert.Equal(double.Parse(figure, System.Globalization.CultureInfo.InvariantCulture), Felt(history).PerMinute.ToDouble(), 0.002);
        Assert.Equal(words, ChangeWords.Read(words, history.State).Words);
    }

    [Theory]
    [InlineData("tempo by 201")]
    [InlineData("tempo by 0.0001")]
    [InlineData("tempo by a bit")]
    public void SetTempo_WrongStep_SaysWhatIsAccepted(string words)
    {
        var refused = Assert.Throws<ChangeRefusedException>(() => History().Do(words, InBarSix));
        Assert.EndsWith("accepted: -200 to 200, with at most three decimals", refused.Message, StringComparison.Ordinal);
    }

    private static FeltTempo Felt(PerformanceHistory history)
    {
        var bar = history.State.BarAt(InBarSix);
        return FeltTempo.Of(bar.Felt, bar.Meter, history.State.TempoIn(bar, InBarSix.Ordinal), bar.GroupPlace.Size);
    }

    private static string Do(PerformanceHistory history, string words) => history.Do(words, InBarSix).Result.Says;

    private static PerformanceHistory History(string key = "A minor")
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", "Am", "G", "F", "Am", "Am", "G", "F", "Am"))) with { Key = Key.Parse(key) };
        return new PerformanceHistory(PerformanceState.Opening(chart, new InstrumentCatalogue([])));
    }
}
