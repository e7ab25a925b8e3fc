using CsCheck;
using GrooveLab.Exchange.Midi;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Ticks convert exactly to frames.</summary>
public sealed class MidiTimelineTests
{
    [Fact]
    public void FrameAt_AnyTempi_IsTheExactTimeRoundedOnce() =>
        Gen.Select(Gen.Int[1, 32767], Gen.Select(Gen.Int[0, 5000], Gen.Int[1, 2_000_000]).Array[0, 12], Gen.Int[8000, 192_000]).Sample((division, changes, rate) =>
        {
            var tick = 0L;
            var events = new List<MidiEvent>();
            foreach (var (delta, tempo) in changes)
            {
                tick += delta;
                events.Add(MidiEvent.Meta(tick, MetaType.Tempo, [(byte)(tempo >> 16), (byte)((tempo >> 8) & 0xFF), (byte)(tempo & 0xFF)]));
            }

            var timeline = new MidiTimeline(new MidiFile(1, MidiDivision.PerQuarter(division), [new MidiTrack(events, tick + 100)]));
            // Tick by tick in microseconds times the division, the simplest way.
            Int128 time = 0;
            long current = 500_000;
            var next = 0;
            for (var at = 0L; at <= Math.Min(tick + 100, 3000); at++)
            {
                while (next < events.Count && events[next].Tick == at)
                {
                    var bytes = events[next++].Content.Span;
                    current = (bytes[0] << 16) | (bytes[1] << 8) | bytes[2];
                }

                var exact = time * rate * 2 / ((Int128)1_000_000 * division);
                Assert.Equal((long)((exact + 1) / 2), timeline.FrameAt(at, rate));
                time += current;
            }
        }, iter: 60);

    // 25 frames of 40 ticks are 1,000 ticks per second; 29 means 30000/1001 frames per second (RP-001).
    [Theory]
    [InlineData(25, 40, 1000, 48_000)]
    [InlineData(24, 10, 240, 48_000)]
    [InlineData(30, 100, 3000, 48_000)]
    [InlineData(29, 100, 30_000, 480_480)]
    public void FrameAt_FilmFrames_IgnoresTempi(int frames, int ticks, long tick, long frame)
    {
        var track = new MidiTrack([MidiEvent.Meta(0, MetaType.Tempo, [1, 2, 3])], tick);
        var timeline = new MidiTimeline(new MidiFile(0, MidiDivision.Smpte(frames, ticks), [track]));
        Assert.Equal(frame, timeline.FrameAt(tick, 48_000));
        Assert.Empty(timeline.Tempi);
    }

    [Fact]
    public void FrameAt_FileThatPretendsToLastForAges_StaysInBounds()
    {
        var events = Enumerable.Range(1, 2000).Select(i => MidiEvent.ForChannel(i * (long)int.MaxValue, 0x90, 1, 1))
            .Prepend(MidiEvent.Meta(0, MetaType.Tempo, [255, 255, 255])).ToList();
        var timeline = new MidiTimeline(new MidiFile(0, MidiDivision.PerQuarter(1), [new MidiTrack(events, events[^1].Tick)]));
        Assert.Equal(MidiTimeline.LastFrame, timeline.FrameAt(timeline.EndTick, 192_000));
    }

    [Fact]
    public void ChannelEvents_AllKinds_ComeInOrderWithTheirPorts()
    {
        var first = new MidiTrack(
            [
                MidiEvent.ForChannel(0, 0xC3, 12),
                MidiEvent.ForChannel(10, 0x93, 60, 100),
                MidiEvent.ForChannel(20, 0xA3, 60, 1),
                MidiEvent.ForChannel(20, 0xD3, 33),
                MidiEvent.ForChannel(20, 0xE3, 1, 64),
                MidiEvent.ForChannel(30, 0x93, 60, 0),
            ],
            40);
        var second = new MidiTrack(
            [MidiEvent.Meta(0, MetaType.Port, [2]), MidiEvent.ForChannel(10, 0xB0, 7, 99), MidiEvent.ForChannel(25, 0x80, 61, 64)], 40);
        var file = new MidiFile(1, MidiDivision.PerQuarter(500), [first, second]);
        Assert.Equal(
            [
                new(0, new(ChannelEventKind.Program, 3, 12, 0)),
                new(10, new(ChannelEventKind.NoteOn, 3, 60, 100)),
                new(10, new(ChannelEventKind.Control, 32, 7, 99)),
                new(20, new(ChannelEventKind.KeyPressure, 3, 60, 1)),
                new(20, new(ChannelEventKind.Pressure, 3, 0, 33)),
                new(20, new(ChannelEventKind.PitchWheel, 3, 0, 8193)),
                new(25, new(ChannelEventKind.NoteOff, 32, 61, 0)),
                new(30, new(ChannelEventKind.NoteOff, 3, 60, 0)),
            ],
            new MidiTimeline(file).ChannelEvents(1000));
    }

    [Theory]
    // Universal system exclusive messages General MIDI on, off and level 2 (MIDI 1.0); resets of two manufacturers, from memory.
    [InlineData(true, "7E7F0901F7")]
    [InlineData(true, "7E000902F7")]
    [InlineData(true, "7E7F0903F7")]
    [InlineData(true, "4110421240007F0041F7")]
    [InlineData(true, "43104C00007E00F7")]
    [InlineData(false, "7E7F0601F7")]
    [InlineData(false, "7F7F04010000F7")]
    [InlineData(false, "7E7F0901")]
    [InlineData(false, "F7")]
    public void ChannelEvents_SystemExclusive_ResetsOnlyWhereItSaysSo(bool resets, string hex)
    {
        var bytes = Convert.FromHexString(hex);
        var expected = resets ? 1 : 0;
        Assert.Equal(expected, Resets(MidiEvent.SystemExclusive(5, 0xF0, bytes)));
        // The same in packets of two bytes.
        var packets = bytes.Chunk(2).Select((part, i) => MidiEvent.SystemExclusive(5, i == 0 ? 0xF0 : 0xF7, part)).ToArray();
        Assert.Equal(expected, Resets(packets));
        Assert.Equal(0, Resets(MidiEvent.SystemExclusive(5, 0xF7, bytes)));
    }

    [Theory]
    // Master volume, universal real-time (MIDI 1.0): lower seven bits first. A manufacturer's message for percussion on any channel, from
    // memory: the part's number is in the address, 0 is channel 10.
    [InlineData("7F7F04010040F7", ChannelEventKind.MasterVolume, 0, 8192)]
    [InlineData("7F1004017F7FF7", ChannelEventKind.MasterVolume, 0, 16383)]
    [InlineData("411042124010150219F7", ChannelEventKind.Percussion, 9, 1)]
    [InlineData("41104212401115001AF7", ChannelEventKind.Percussion, 0, 0)]
    [InlineData("41104212401F15010BF7", ChannelEventKind.Percussion, 15, 1)]
    [InlineData("43104C08020702F7", ChannelEventKind.Percussion, 2, 1)]
    [InlineData("43104C08090700F7", ChannelEventKind.Percussion, 9, 0)]
    public void ChannelEvents_SystemExclusive_SaysWhatItMeans(string hex, ChannelEventKind kind, int channel, int value) => Assert.Equal(
        new TimedChannelEvent(2500, new ChannelEvent(kind, channel, 0, value)),
        Assert.Single(Told(MidiEvent.SystemExclusive(5, 0xF0, Convert.FromHexString(hex)))));

    // From memory: after this reset, bank 127 is that of the drums.
    [Theory]
    [InlineData("43104C00007E00F7", 127, true)]
    [InlineData("43104C00007E00F7", 0, false)]
    [InlineData("7E7F0901F7", 127, false)]
    public void ChannelEvents_BankOfTheDrums_MakesTheChannelPercussion(string reset, int bank, bool isPercussion)
    {
        var told = Told(
            MidiEvent.SystemExclusive(0, 0xF0, Convert.FromHexString(reset)),
            MidiEvent.ForChannel(1, 0xB2, 0, bank),
            MidiEvent.ForChannel(2, 0xC2, 0),
            MidiEvent.ForChannel(3, 0xB2, 0, 0),
            MidiEvent.ForChannel(4, 0xC2, 0));

        Assert.Equal(
            isPercussion ? [new ChannelEvent(ChannelEventKind.Percussion, 2, 0, 1), new ChannelEvent(ChannelEventKind.Percussion, 2, 0, 0)] : [],
            told.Select(item => item.Event).Where(item => item.Kind == ChannelEventKind.Percussion));
    }

    private static IReadOnlyList<TimedChannelEvent> Told(params MidiEvent[] events) =>
        new MidiTimeline(new MidiFile(0, MidiDivision.PerQuarter(48), [new MidiTrack(events, 10)])).ChannelEvents(48_000);

    private static int Resets(params MidiEvent[] events) =>
        new MidiTimeline(new MidiFile(0, MidiDivision.PerQuarter(96), [new MidiTrack(events, 10)])).ChannelEvents(48_000)
            .Count(item => item.Event.Kind == ChannelEventKind.Reset);
}
