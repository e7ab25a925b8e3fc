using GrooveLab.Audio.LiveMidi;
using Xunit;

namespace GrooveLab.Audio.Tests.LiveMidi;

public sealed class MidiLineTests
{
    private static TimedMidi On(int channel, int key) => new(0, MidiAction.Message, 0x90 | channel, key, 100, 0);

    private static TimedMidi Off(int channel, int key) => new(0, MidiAction.Message, 0x80 | channel, key, 0, 0);

    private static TimedMidi Control(int channel, int number, int value) => new(0, MidiAction.Message, 0xB0 | channel, number, value, 0);

    private static TimedMidi Clock(long number) => new(0, MidiAction.Clock, 0, 0, 0, number);

    private static TimedMidi Transport(int status) => new(0, MidiAction.Transport, status, 0, 0, 0);

    private static void Do(MidiLine line, double now, params TimedMidi[] items)
    {
        foreach (var item in items)
        {
            line.Do(item, now);
        }

        line.Flush(now);
    }

    [Fact]
    public void Do_NotesClockAndPlace_SendsTheirBytes()
    {
        var port = new FakePort();
        var line = new MidiLine(port);

        // Sixteenth 300 is 2 times 128 and 44: the lower seven bits come first (MIDI 1.0, from memory).
        Do(line, 0, new TimedMidi(0, MidiAction.Position, 0xF2, 0, 0, 300), Transport(0xFB), Clock(1800), On(2, 60), Off(2, 60));

        Assert.Equal([0xF2, 44, 2, 0xFB, 0xF8, 0x92, 60, 100, 0x82, 60, 64], port.Bytes);
        Assert.Equal(0, line.Sounding);
    }

    [Fact]
    public void Do_OffOfAKeyThatDoesNotSound_IsNotSent()
    {
        var port = new FakePort();
        Do(new MidiLine(port), 0, Off(0, 60));
        Assert.Empty(port.Bytes);
    }

    [Fact]
    public void ReleaseAll_TwoKeysOnTwoChannels_EndsThemPedalsAndLastEverything()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, On(0, 60), On(9, 76));
        port.Take();

        line.ReleaseAll(0);
        line.Flush(0);

        Assert.Equal([0x80, 60, 64, 0x89, 76, 64, 0xB0, 64, 0, 0xB0, 123, 0, 0xB9, 64, 0, 0xB9, 123, 0], port.Bytes);
        Assert.Equal(0, line.Sounding);
    }

    [Fact]
    public void Do_VolumeZero_ReleasesTheChannelAndKeepsItSilent()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, Control(1, 7, 80), On(1, 60));
        port.Take();

        Do(line, 0, Control(1, 7, 0), On(1, 62));
        Assert.Equal([0xB1, 7, 0, 0x81, 60, 64], port.Take());

        Do(line, 0, Control(1, 7, 80), On(1, 64));
        Assert.Equal([0xB1, 7, 80, 0x91, 64, 100], port.Take());
    }

    [Fact]
    public void Flush_PortTakesAByteAtATime_SplitsNoMessageForGood()
    {
        var port = new FakePort { Room = 0 };
        var line = new MidiLine(port);
        Do(line, 0, On(0, 60), Off(0, 60), Clock(0));
        for (var i = 1; i <= 7; i++)
        {
            port.Room = 1;
            line.Flush(0.01 * i);
        }

        Assert.Equal([0x90, 60, 100, 0x80, 60, 64, 0xF8], port.Bytes);
        Assert.Equal(MidiLineState.Open, line.State);
    }

    [Fact]
    public void Flush_PortStuckInAMessage_FinishesItThenReleasesAndGivesThePlace()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, Transport(0xFA), Clock(0), new TimedMidi(0, MidiAction.Message, 0xC0, 24, 0, 0), Control(0, 7, 64), On(0, 60));
        port.Take();

        // Two bytes of the next note-on fit; then nothing for longer than a quarter of a second.
        port.Room = 2;
        Do(line, 1, On(0, 64), Off(0, 60));
        Do(line, 1.3);
        Assert.Equal(MidiLineState.Stuck, line.State);
        Do(line, 1.4, On(0, 67), Clock(1));
        Assert.Equal([0x90, 64], port.Take());

        port.Room = int.MaxValue;
        Do(line, 2);
        Assert.Equal(MidiLineState.Open, line.State);
        Assert.Equal(
            [100, 0x80, 60, 64, 0x80, 64, 64, 0xB0, 64, 0, 0xB0, 123, 0, 0xC0, 24, 0xB0, 7, 64], port.Take());
        Assert.Equal(0, line.Sounding);

        // The place is given before clock 12, the next whole sixteenth.
        Do(line, 2.1, Clock(10), Clock(11), Clock(12));
        Assert.Equal([0xF8, 0xF8, 0xF2, 2, 0, 0xFB, 0xF8], port.Take());
    }

    [Fact]
    public void Flush_PortStuckBetweenMessages_StaysStuckUntilItTakesBytes()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, On(0, 60));
        port.Take();

        port.Room = 0;
        Do(line, 1, On(0, 64));
        Do(line, 1.2);
        Assert.Equal(MidiLineState.Open, line.State);
        for (var now = 1.3; now < 5; now += 0.1)
        {
            Do(line, now, Off(0, 60), On(0, 65));
            Assert.Equal(MidiLineState.Stuck, line.State);
        }

        port.Room = int.MaxValue;
        Do(line, 5);
        Assert.Equal(MidiLineState.Open, line.State);

        // Key 65 was struck before the port counted as stuck; its release is sent to be sure.
        Assert.Equal([0xB0, 123, 0, 0x80, 60, 64, 0x80, 64, 64, 0x80, 65, 64, 0xB0, 64, 0, 0xB0, 123, 0], port.Bytes);
    }

    [Fact]
    public void Reopen_PortWentAwayWhileANoteSounded_ReleasesItAndGivesThePlaceAgain()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, Transport(0xFA), Clock(0), On(3, 50));
        port.IsGone = true;
        Do(line, 1, On(3, 52));
        Assert.Equal(MidiLineState.Gone, line.State);
        Assert.True(port.IsClosed);
        Do(line, 1.1, Off(3, 50), Off(3, 52), On(3, 55));

        var back = new FakePort();
        line.Reopen(back, 2);
        Do(line, 2, Clock(5), Clock(6));

        Assert.Equal([0x83, 50, 64, 0x83, 52, 64, 0xB3, 64, 0, 0xB3, 123, 0, 0xF8, 0xF2, 1, 0, 0xFB, 0xF8], back.Bytes);
        Assert.Equal(MidiLineState.Open, line.State);
    }

    [Fact]
    public void Reopen_StoppedMeanwhile_DoesNotContinue()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, Transport(0xFA), Clock(0));
        port.IsGone = true;
        Do(line, 1, Clock(1));
        Do(line, 1, Transport(0xFC));

        var back = new FakePort();
        line.Reopen(back, 2);
        Do(line, 2, Clock(5), Clock(6));

        Assert.Equal([0xF8, 0xF8], back.Bytes);
    }

    [Fact]
    public void Finish_WhileItRuns_StopsAndReleases()
    {
        var port = new FakePort();
        var line = new MidiLine(port);
        Do(line, 0, Transport(0xFA), On(0, 60));
        port.Take();

        line.Finish(0);
        line.Flush(0);

        Assert.Equal([0xFC, 0x80, 60, 64, 0xB0, 64, 0, 0xB0, 123, 0], port.Bytes);
    }

    [Fact]
    public void Do_MoreThanThereIsRoomFor_CountsAsStuckAndLosesNoRelease()
    {
        var port = new FakePort { Room = 0 };
        var line = new MidiLine(port);
        for (var i = 0; i < 3000; i++)
        {
            line.Do(On(0, i % 128), 0);
            line.Do(Off(0, i % 128), 0);
        }

        Assert.Equal(MidiLineState.Stuck, line.State);
        port.Room = int.MaxValue;
        line.Flush(1);
        Assert.Equal(0, line.Sounding);
        Assert.Equal(MidiLineState.Open, line.State);
    }
}
