using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Inputs;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Tests.Conducting;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>MIDI ports on the command line; <c>.ci/midi-out</c> plays into one.</summary>
public sealed class MidiPortTests : IDisposable
{
    private readonly Running _program = new();

    public void Dispose() => _program.Dispose();

    [Theory]
    [InlineData("--midi-out: there is no MIDI port ./nothing; 'groovelab devices' lists them", "--midi-out", "./nothing")]
    [InlineData("--follow-clock: there is no MIDI port ./nothing; 'groovelab devices' lists them", "--follow-clock", "./nothing")]
    [InlineData("--midi-out: ./song.mid is a file, not a MIDI port; 'groovelab devices' lists the ports", "--midi-out", "./song.mid")]
    [InlineData("--midi-out: no MIDI port to send to is called 'no such port'; ", "--midi-out", "no such port")]
    [InlineData("--tempo: with --follow-clock the clock sets the tempo; leave one of the two out", "--follow-clock", "/dev/null", "--tempo", "80%")]
    [InlineData("--follow-clock: /dev/null is also the port of --midi-out, and a band cannot follow the clock that it sends; give another port", "--follow-clock", "/dev/null", "--midi-out", "/dev/null")]
    public void Play_PortThatCannotBeUsed_SaysWhy(string said, params string[] arguments)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "paths of devices are those of Linux");
        _program.Write("song.mid", "a file");
        var ran = _program.Run(["play", "five-eight-2-3", "--no-screen", .. arguments]);
        Assert.Equal(2, ran.ExitCode);
        Assert.StartsWith("groovelab: " + said, ran.Error, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("tempo 120")]
    [InlineData("tempo 80%")]
    [InlineData("tempo by 4")]
    [InlineData("ramp 140 over 4")]
    public void Do_TempoWhileAnotherSetsIt_IsRefusedInASentence(string words)
    {
        var chart = ChartReader.ReadText(PresetCharts.Text("five-eight-2-3")!, "preset").Chart!;
        var history = new PerformanceHistory(new StartOptions { CountIn = false }.Opening(chart, InstrumentFile.BuiltIn));
        var player = new OfflinePlayer(history.Route, new EventSynth(LedBand.Rate), LedBand.Options, limited: false);
        var conductor = new Conductor(history, player.Engine, player.Bars.Continue, player.Bars.Go)
        {
            TempoRefusal = "the tempo follows the clock of Pier: change it there",
        };

        Assert.Equal((false, "the tempo follows the clock of Pier: change it there"), (conductor.Do(words).Taken, conductor.Do(words).Says));
        Assert.True(conductor.Do("feel unit").Taken);
    }

    // Bars of 7/8 have 84 clocks.
    [Theory]
    [InlineData(0, 0)]
    [InlineData(83, 0)]
    [InlineData(84, 1)]
    [InlineData(168, 2)]
    [InlineData(100_000, 9)]
    public void BarAt_PlaceInClocks_IsTheBarAroundIt(long clock, int bar) =>
        Assert.Equal(bar, MidiLinks.BarAt(clock, index => Position.Zero + Span.Of(7 * index, 8), 10));
}
