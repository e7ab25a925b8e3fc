using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Tests.Playback;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.LiveMidi;

/// <summary>What the engine tells as MIDI, with its frames. 24 clocks to a quarter: MIDI 1.0, timing clock (from memory).</summary>
public sealed class MidiTapTests
{
    // A quarter is half a second, 24,000 frames, and a clock 1,000.
    private static readonly Tempo Quarter120 = Tempo.Of(Span.Of(1, 4), 120);

    private static List<TappedEvent> All(MidiTap tap)
    {
        var all = new List<TappedEvent>();
        while (tap.TryTake(out var item))
        {
            all.Add(item);
        }

        return all;
    }

    private static (List<TappedEvent> Events, RecordingSynth Synth) Played(IBarSource source, Action<OfflinePlayer>? with = null)
    {
        var tap = new MidiTap();
        var synth = new RecordingSynth();
        var player = Player(source, synth, new EngineOptions { Tap = tap });
        with?.Invoke(player);
        ReadAll(player);
        return (All(tap), synth);
    }

    private static List<(long Frame, long Clock)> Clocks(IEnumerable<TappedEvent> events) =>
        [.. events.Where(item => item.Kind == TappedKind.Clock).Select(item => (item.Frame, item.Clock))];

    [Theory]
    [InlineData(5, 8, 60)]
    [InlineData(7, 16, 42)]
    [InlineData(4, 4, 96)]
    public void Clock_TwoBarsOfAMeter_AreOnTheirFrames(int units, int unit, int clocks)
    {
        var (events, _) = Played(Of([Bar(units, unit, Quarter120), Bar(units, unit, Quarter120)]));

        Assert.Equal(Enumerable.Range(0, 2 * clocks).Select(k => (9600L + (1000 * k), (long)k)), Clocks(events));
        Assert.Equal(9600 + (2000 * clocks), Assert.Single(events, item => item.Kind == TappedKind.Ended).Frame);
    }

    [Fact]
    public void Clock_OfTheLeadIn_HasNegativeNumbers()
    {
        var (events, _) = Played(Of([Bar(2, 4, Quarter120), Bar(2, 4, Quarter120)], leadIns: 1));

        Assert.Equal((9600, -48), Clocks(events)[0]);
        Assert.Equal((9600 + 48_000, 0), Clocks(events)[48]);
    }

    [Fact]
    public void Clock_BarOfFiveAndAHalfSixteenths_GoesOnEvenlyAcrossTheBarLine()
    {
        // 11/64 is 16 1/2 clocks: the second bar begins between two.
        var (events, _) = Played(Of([Bar(11, 64, Quarter120), Bar(11, 64, Quarter120)]));

        Assert.Equal(Enumerable.Range(0, 33).Select(k => (9600L + (1000 * k), (long)k)), Clocks(events));
    }

    [Fact]
    public void Clock_TempoOfTheChartChanges_ClocksFollow()
    {
        // In the second half of the bar a clock lasts 500 frames.
        var (events, _) = Played(Of([Bar(2, 4, [(Span.Zero, Quarter120), (Span.Of(1, 4), Tempo.Of(Span.Of(1, 4), 240))], [])]));

        var frames = Clocks(events).ConvertAll(clock => clock.Frame);
        Assert.Equal(48, frames.Count);
        Assert.Equal(9600 + 23_000, frames[23]);
        Assert.Equal(9600 + 24_000, frames[24]);
        Assert.Equal(9600 + 24_500, frames[25]);
    }

    [Fact]
    public void Clock_SpeedDoubledAtTheStart_ComesTwiceAsOften()
    {
        var (events, _) = Played(Of([Bar(1, 4, Quarter120)]), player => player.Engine.Post(EngineCommand.Speed(2)));

        Assert.Equal([9600, 10_100, 10_600], Clocks(events).Take(3).Select(clock => clock.Frame));
    }

    [Fact]
    public void Clock_JumpToAnEarlierBar_HasTheNumbersOfThatBar()
    {
        var source = Of([Bar(2, 4, Quarter120), Bar(2, 4, Quarter120), Bar(2, 4, Quarter120)]);
        var tap = new MidiTap();
        var player = Player(source, new RecordingSynth(), new EngineOptions { Tap = tap });
        ReadTo(player, 9600 + 48_000 + 12_800);
        player.Bars.Go(new BarRoute(source, 0, Until: 1));
        ReadAll(player);

        // Bars 0, 1, then 0 again: 96 clocks, then the first 48 numbers.
        var numbers = Clocks(All(tap)).ConvertAll(clock => clock.Clock);
        Assert.Equal([.. Enumerable.Range(0, 96).Select(k => (long)k), .. Enumerable.Range(0, 48).Select(k => (long)k)], numbers);
    }

    [Fact]
    public void Message_NotesOfABar_AreThoseOfTheSynthesizer()
    {
        var (events, synth) = Played(Of([Units(3, 8, Brisk)]));

        var notes = events.Where(item => item.Kind == TappedKind.Message && (item.Status & 0xF0) is 0x80 or 0x90)
            .Select(item => (item.Frame, On: (item.Status & 0xF0) == 0x90, item.First));
        Assert.Equal(
            synth.Calls.Where(call => call.Kind is CallKind.On or CallKind.Off).Select(call => (call.Frame, On: call.Kind == CallKind.On, First: call.Key)), notes);
        Assert.Equal(6, notes.Count());
        Assert.Contains(events, item => item is { Kind: TappedKind.Message, Status: 0xC0, First: 24 });
    }

    [Fact]
    public void Message_ChannelBeyondThePort_IsLeftOut()
    {
        var (events, synth) = Played(Of([Units(2, 8, Brisk)], [BandPart("far", 16)]));

        Assert.Equal(2, synth.Ons.Count());
        Assert.DoesNotContain(events, item => item.Kind == TappedKind.Message);
    }

    [Fact]
    public void TryTake_NobodyTookTheEvents_TellsTheGapAndCountsTheLoss()
    {
        var tap = new MidiTap(capacity: 4);
        for (var i = 0; i < 6; i++)
        {
            tap.Clock(i);
        }

        Assert.Equal(2, tap.Lost);
        Assert.Equal([0, 1, 2, 3], All(tap).Select(item => item.Clock));
        tap.Clock(6);
        Assert.Equal([(TappedKind.Gap, 0), (TappedKind.Clock, 6)], All(tap).Select(item => (item.Kind, item.Clock)));
    }

    [Fact]
    public void Health_EventsLost_SaysSo()
    {
        var tap = new MidiTap(capacity: 4);
        var player = Player(Of([Units(3, 8, Brisk)]), new RecordingSynth(), new EngineOptions { Tap = tap });
        ReadAll(player);

        var entry = Assert.Single(player.Health.Entries);
        Assert.Equal(HealthKind.LostMidi, entry.Kind);
        Assert.Equal(tap.Lost, entry.Count);
    }

    [Fact]
    public void Read_WithATap_SoundsTheSame()
    {
        var with = ReadAll(Player(EngineContractTests.Song(), new RecordingSynth(), new EngineOptions { Tap = new MidiTap() }));
        Assert.Equal(ReadAll(Player(EngineContractTests.Song(), new RecordingSynth())), with);
    }

    [Fact]
    public void SteadyTempo_BarsWithOtherTempi_AllHaveIt()
    {
        var synth = new RecordingSynth();
        var faster = Tempo.Of(Span.Of(1, 4), 200);
        ReadAll(Player(Of([Units(2, 4, Quarter120), Units(2, 4, faster)]), synth, new EngineOptions { SteadyTempo = Quarter120 }));

        Assert.Equal([9600, 33_600, 57_600, 81_600], synth.Ons.Select(on => on.Frame));
    }
}
