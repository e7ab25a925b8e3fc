using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Feel;

public sealed class FeltTempoTests
{
    private static BarMeter Meter(string text) => BarMeter.TryParse(text, out var meter, out _) ? meter : throw new ArgumentException(text);

    // Arithmetic: a bar is as many units as its numerator.
    [Theory]
    [InlineData("5/8 3+2", 300, FeltLevel.Unit, "in five, eighth = 300")]
    [InlineData("5/8 3+2", 300, FeltLevel.Group, "in two, eighth = 300")]
    [InlineData("5/8 3+2", 300, FeltLevel.Bar, "in one, bar = 60")]
    [InlineData("5/8 3+2", 300, FeltLevel.BarGroup, "in four-bar groups, four bars = 15")]
    [InlineData("6/8 3+3", 180, FeltLevel.Group, "in two, dotted quarter = 60")]
    [InlineData("9/8 3+3+3", 270, FeltLevel.Group, "in three, dotted quarter = 90")]
    [InlineData("7/8 2+2+3", 400, FeltLevel.Bar, "in one, bar = 57.1")]
    [InlineData("13/8 none", 260, FeltLevel.Group, "in one, bar = 20")]
    public void Of_EveryLevel_ReadsInThatBeat(string meter, int eighths, FeltLevel level, string reading) =>
        Assert.Equal(reading, FeltTempo.Of(level, Meter(meter), Tempo.Of(Span.Of(1, 8), eighths), 4).ToString());

    // Parncutt (1994), equation 6: the two levels' saliences are equal at the turning tempo.
    [Theory]
    [InlineData("5/8 3+2", 300, FeltLevel.Unit)]
    [InlineData("5/8 3+2", 300, FeltLevel.Group)]
    [InlineData("5/8 3+2", 300, FeltLevel.Bar)]
    [InlineData("7/8 2+2+3", 240, FeltLevel.Group)]
    [InlineData("3/4", 90, FeltLevel.Bar)]
    public void Turn_AtItsTempo_MakesBothLevelsEquallySalient(string text, int units, FeltLevel level)
    {
        var meter = Meter(text);
        var tempo = Tempo.Of(meter.Unit, units);
        var fits = LevelFit.Of(meter, tempo, 4);
        var turn = LevelTurn.Of(level, fits);
        var felt = fits.First(fit => fit.Level >= level);
        if (turn.Wider is { } wider)
        {
            var other = fits.First(fit => fit.Level == wider);
            Assert.Equal(PulseSalience.Parncutt(felt.Seconds / turn.FasterAt), PulseSalience.Parncutt(other.Seconds / turn.FasterAt), 9);
        }

        if (turn.Slower is { } slower)
        {
            var other = fits.First(fit => fit.Level == slower);
            Assert.Equal(PulseSalience.Parncutt(felt.Seconds / turn.SlowerAt), PulseSalience.Parncutt(other.Seconds / turn.SlowerAt), 9);
        }

        var best = fits.MaxBy(fit => fit.Salience).Level;
        if (best == felt.Level)
        {
            Assert.Null(turn.TurnedTo);
        }
    }
}
