using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback.Engine;
using Xunit;

namespace GrooveLab.Audio.Tests.LiveMidi;

/// <summary>
/// The messages of MIDI 1.0 (from memory): F8 timing clock, FA start, FB continue, FC stop, F2 song position pointer in sixteenths of six clocks. Music
/// goes on with the first clock after start or continue.
/// </summary>
public sealed class MidiScheduleTests
{
    private const int Lead = 72;

    private static TappedEvent Clock(long frame, long number) => new(frame, TappedKind.Clock, 0, 0, 0, number);

    private static List<string> Sent(params TappedEvent[] events)
    {
        var schedule = new MidiSchedule(Lead);
        foreach (var item in events)
        {
            schedule.Add(item);
        }

        var sent = new List<string>();
        while (schedule.TryPeek(out var next))
        {
            schedule.Take();
            sent.Add($"{next.Frame} " + next.Action switch
            {
                MidiAction.Clock => "F8",
                MidiAction.Transport => $"{next.Status:X2}",
                MidiAction.Position => $"F2 {next.Number}",
                MidiAction.Release => "release",
                _ => $"{next.Status:X2} {next.First}",
            });
        }

        return sent;
    }

    [Fact]
    public void Add_LeadInThenTheSong_StartsJustBeforeTheFirstClockOfTheSong() => Assert.Equal(
        ["1000 F8", "2000 F8", "2928 FA", "3000 F8", "4000 F8"],
        Sent(Clock(1000, -2), Clock(2000, -1), Clock(3000, 0), Clock(4000, 1)));

    [Fact]
    public void Add_BeginInTheMiddle_NamesTheSixteenthAndContinues() => Assert.Equal(
        ["928 F2 14", "928 FB", "1000 F8"],
        Sent(Clock(1000, 84)));

    [Fact]
    public void Add_Jump_StopsNamesThePlaceAndContinues() => Assert.Equal(
        ["928 FA", "1000 F8", "2000 F8", "2928 FC", "2928 F2 20", "2928 FB", "3000 F8", "4000 F8"],
        Sent(Clock(1000, 0), Clock(2000, 1), Clock(3000, 120), Clock(4000, 121)));

    [Fact]
    public void Add_JumpBetweenTwoSixteenths_ContinuesWithTheNextWholeOne() => Assert.Equal(
        ["928 FA", "1000 F8", "1928 FC", "2000 F8", "3000 F8", "3928 F2 3", "3928 FB", "4000 F8"],
        Sent(Clock(1000, 0), Clock(2000, 16), Clock(3000, 17), Clock(4000, 18)));

    [Fact]
    public void Add_JumpToTheTop_StartsAgain() => Assert.Equal(
        ["928 FA", "1000 F8", "1928 FC", "1928 FA", "2000 F8"],
        Sent(Clock(1000, 0), Clock(2000, 0)));

    [Fact]
    public void Add_ClocksCloserThanTheLead_StartStaysBehindTheClockBefore() => Assert.Equal(
        ["1000 F8", "1000 FA", "1050 F8"],
        Sent(Clock(1000, -1), Clock(1050, 0)));

    [Fact]
    public void Add_BeyondTheLastSixteenth_ContinuesWithoutAPlace() => Assert.Equal(
        ["928 FB", "1000 F8"],
        Sent(Clock(1000, 16_384 * 6)));

    [Fact]
    public void Add_LastSixteenth_IsNamed() => Assert.Equal(
        ["928 F2 16383", "928 FB", "1000 F8"],
        Sent(Clock(1000, 16_383 * 6)));

    [Fact]
    public void Add_End_StopsAndReleases() => Assert.Equal(
        ["928 FA", "1000 F8", "1500 FC", "1500 release"],
        Sent(Clock(1000, 0), new TappedEvent(1500, TappedKind.Ended, 0, 0, 0, 0)));

    [Fact]
    public void Add_GapWithLostClocks_ReleasesAndNamesThePlace() => Assert.Equal(
        ["928 FA", "1000 F8", "1500 release", "8928 FC", "8928 F2 2", "8928 FB", "9000 F8"],
        Sent(Clock(1000, 0), new TappedEvent(1500, TappedKind.Gap, 0, 0, 0, 0), Clock(9000, 12)));

    [Fact]
    public void Add_NoteOnTheFrameOfItsClock_ComesAfterIt() => Assert.Equal(
        ["928 FA", "1000 F8", "1000 90 60"],
        Sent(Clock(1000, 0), new TappedEvent(1000, TappedKind.Message, 0x90, 60, 100, 0)));
}
