using GrooveLab.Exchange.Midi;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Valid files are read; invalid ones are read with a warning where they are unambiguous, and otherwise rejected with the byte of the problem.</summary>
public sealed class MidiFileReaderTests
{
    private const string Header0 = "4D54686400000006000000010060";
    private const string Header1 = "4D54686400000006000100020060";
    private const string EmptyTrack = "4D54726B0000000400FF2F00";

    // The example of a format 0 file in RP-001, with running status; from memory.
    private const string Example = Header0 + "4D54726B0000003B"
        + "00FF580404021808" + "00FF510307A120" + "00C005" + "00C12E" + "00C246" + "00923060" + "003C60" + "60914340" + "60904C20"
        + "8140823040" + "003C40" + "00814340" + "00804C40" + "00FF2F00";

    [Fact]
    public void Parse_TheSpecificationsExample_IsWhatTheSpecificationSays()
    {
        var file = Parse(Example);
        Assert.Equal(0, file.Format);
        Assert.Equal(MidiDivision.PerQuarter(96), file.Division);
        var track = Assert.Single(file.Tracks);
        Assert.Equal(
            [
                MidiEvent.Meta(0, MetaType.TimeSignature, [4, 2, 24, 8]),
                MidiEvent.Meta(0, MetaType.Tempo, [0x07, 0xA1, 0x20]),
                MidiEvent.ForChannel(0, 0xC0, 5),
                MidiEvent.ForChannel(0, 0xC1, 46),
                MidiEvent.ForChannel(0, 0xC2, 70),
                MidiEvent.ForChannel(0, 0x92, 48, 96),
                MidiEvent.ForChannel(0, 0x92, 60, 96),
                MidiEvent.ForChannel(96, 0x91, 67, 64),
                MidiEvent.ForChannel(192, 0x90, 76, 32),
                MidiEvent.ForChannel(384, 0x82, 48, 64),
                MidiEvent.ForChannel(384, 0x82, 60, 64),
                MidiEvent.ForChannel(384, 0x81, 67, 64),
                MidiEvent.ForChannel(384, 0x80, 76, 64),
            ],
            track.Events);
        Assert.Equal(384, track.EndTick);
    }

    [Theory]
    // System exclusive, whole, in packets, and raw bytes.
    [InlineData(Header0 + "4D54726B00000017" + "00F0057E7F0901F7" + "00F003431200" + "01F7020102" + "00FF2F00")]
    // A longer header than needed, an unknown chunk, an unknown meta event, and a long tempo.
    [InlineData("4D5468640000000800000001006012344142434400000003010203" + "4D54726B00000011" + "00FF7F0101" + "00FF51040102030" + "400FF2F00")]
    public void Parse_WhatIsUnusualButAllowed_IsRead(string hex)
    {
        var file = Parse(hex);
        Assert.NotEmpty(file.Tracks[0].Events);
        Assert.Empty(file.Warnings);
    }

    [Theory]
    [InlineData("", 0, "MThd")]
    [InlineData("00", 0, "MThd")]
    [InlineData("524946460000000052", 4, "ends in its header")]
    [InlineData("5249464600000000", 4, "ends in its header")]
    [InlineData("524946460400000057415645", 8, "form is RMID")]
    [InlineData("5249464604000000524D4944", 12, "no chunk with MIDI data")]
    [InlineData("5249464610000000524D494464617461020000004D54", 20, "MThd")]
    [InlineData("4D546864", 4, "length of the header")]
    [InlineData("4D54686400000006", 4, "6 bytes, but only 0 are left")]
    [InlineData("4D5468640000000400000001", 8, "4 bytes long; 6")]
    [InlineData("4D54686400000006000300010060" + EmptyTrack, 8, "format 3")]
    [InlineData("4D54686400000006000100000060", 14, "no track (MTrk); export it again")]
    [InlineData(Header0 + "58587878000000020102", 24, "no track (MTrk); export it again")]
    [InlineData("4D54686400000006000000010000" + EmptyTrack, 12, "0 ticks")]
    [InlineData("4D5468640000000600000001FF01" + EmptyTrack, 12, "1 frames a second")]
    [InlineData("4D5468640000000600000001E700" + EmptyTrack, 12, "0 ticks in 25 frames")]
    [InlineData(Header0 + "4D54726B0000000400403C40", 23, "data byte 40")]
    [InlineData(Header0 + "4D54726B0000000500F1000000", 23, "status byte F1")]
    [InlineData(Header0 + "4D54726B00000008" + "00903C80" + "00FF2F00", 25, "80 where a data byte")]
    [InlineData(Header0 + "4D54726B00000008" + "0090FF40" + "00FF2F00", 24, "FF where a data byte")]
    [InlineData(Header0 + "4D54726B00000009" + "8181818100" + "00FF2F00", 22, "more than four bytes")]
    [InlineData(Header0 + "4D54726B00000008" + "00FFFFFFFF7F0000", 24, "type FF")]
    [InlineData(Header0 + "4D54726B0000000A" + "00FF51020102" + "00FF2F00", 26, "of 2 bytes; 3")]
    [InlineData(Header0 + "4D54726B00000009" + "00FF580105" + "00FF2F00", 26, "of 1 bytes; 4")]
    [InlineData(Header0 + "4D54726B00000008" + "00FF5900" + "00FF2F00", 26, "of 0 bytes; 2")]
    public void Parse_BrokenFile_SaysWhereAndWhy(string hex, int offset, string reason)
    {
        var problem = Assert.Throws<MidiFileException>(() => Parse(hex));
        Assert.Contains(reason, problem.Reason);
        Assert.Equal(offset, problem.Offset);
        Assert.StartsWith("file.mid: byte ", problem.Message);
    }

    private const string Note = "00903C40" + "60803C00";
    private const string End = "00FF2F00";

    [Theory]
    [InlineData(Header0 + "4D54726B00000008" + Note, 30, "no end-of-track event")]
    [InlineData(Header0 + "4D54726B0000000B" + Note + "00903C", 30, "ends inside an event")]
    [InlineData(Header0 + "4D54726B0000000C" + Note + "00FF0110", 30, "ends inside an event")]
    [InlineData(Header0 + "4D54726B0000000E" + Note + "00F0FFFFFF7F", 30, "ends inside an event")]
    [InlineData(Header0 + "4D54726B00000010" + Note + "00FF0110" + End, 30, "ends inside an event")]
    // After the end: in the track, in the file.
    [InlineData(Header0 + "4D54726B00000010" + Note + End + End, 34, "4 bytes in track 1 after its end")]
    [InlineData(Header0 + "4D54726B0000000C" + Note + End + "FFFFFF", 34, "3 bytes after the last track")]
    [InlineData(Header0 + "4D54726B0000000C" + Note + End + "41", 34, "1 byte after the last track")]
    // Lengths: too long, too short, 0 as a program leaves it that could not go back.
    [InlineData(Header0 + "4D54726BFFFFFFFF" + Note + End, 18, "4294967295 bytes, but ends after 12")]
    [InlineData(Header0 + "4D54726B0000000A" + Note + End, 18, "10 bytes, but goes on for 12")]
    [InlineData(Header0 + "4D54726B00000000" + Note + End, 18, "0 bytes, but goes on for 12")]
    [InlineData(Header0 + "4D54726B00000100" + Note, 18, "256 bytes, but 8 are left in the file")]
    [InlineData(Header0 + "4D54726B00000100" + Note + "0090", 18, "256 bytes, but 10 are left in the file")]
    [InlineData(Header1 + "4D54726B00000018" + Note + End + EmptyTrack, 18, "24 bytes, but ends after 12")]
    // Running status that goes on.
    [InlineData(Header0 + "4D54726B00000013" + "00903C40" + "00FF010141" + "603C00" + "00B00740" + "0A0B" + "40", 32, "follows a meta or system exclusive event; status 90")]
    [InlineData(Header0 + "4D54726B0000000F" + "00903C40" + "00F001F7" + "603C00" + End, 31, "follows a meta or system exclusive event; status 90")]
    // The header's count of tracks.
    [InlineData(Header1 + "4D54726B0000000C" + Note + End, 10, "announces 2 tracks, but the file has 1")]
    [InlineData("4D54686400000006000100010060" + "4D54726B0000000C" + Note + End + EmptyTrack, 10, "announces 1 track, but the file has 2")]
    [InlineData("4D54686400000006000100000060" + "4D54726B0000000C" + Note + End, 10, "announces 0 tracks, but the file has 1")]
    [InlineData("4D54686400000006000000020060" + "4D54726B0000000C" + Note + End + EmptyTrack, 8, "format 0 has one track, this file has 2")]
    [InlineData("4D54686400000006000200010060" + "4D54726B0000000C" + Note + End, 8, "format 2: the file has one sequence")]
    [InlineData(Header1 + "FF0102" + "4D54726B0000000C" + Note + End + EmptyTrack, 14, "3 bytes that no chunk holds")]
    [InlineData("5249464630000000524D4944" + "584D494401000000AA00" + "6461746122000000" + Header0 + "4D54726B0000000C" + Note + End, 0, "RIFF file (RMID)")]
    [InlineData("5249464600000000524D4944" + "6461746100000000" + Header0 + "4D54726B0000000C" + Note + End, 16, "a length of 0 bytes; it is read to the end of the file")]
    [InlineData(Header0 + "4D54726B00000013" + "00FF5103000000" + Note + End, 26, "of 0 microseconds per quarter; the last tempo stays")]
    [InlineData(Header0 + "4D54726B0000000F" + "00903C40" + "10F8" + "503C00" + End, 27, "a system real-time message (F8) in track 1")]
    public void Parse_WhatOthersPlay_IsReadWithAWarning(string hex, int offset, string reason)
    {
        var file = Parse(hex);
        var warning = file.Warnings.First(warning => warning.Offset == offset);
        Assert.Contains(reason, warning.Reason);
        Assert.Equal($"byte {offset}: {warning.Reason}", warning.ToString());
        Assert.Equal(MidiEvent.ForChannel(0, 0x90, 60, 64), file.Tracks[0].Events[0]);
        Assert.Contains(file.Tracks[0].Events, item => item.Tick == 96 && item.IsNoteOff && item.Data1 == 60);
    }

    [Fact]
    public void Parse_SoundFile_HasNoWarning()
    {
        Assert.Empty(Parse(Example).Warnings);
        // Chunks of other kinds are allowed, also behind the last track.
        Assert.Empty(Parse(Header0 + "4142434400000003010203" + EmptyTrack + "4142434400000003010203").Warnings);
    }

    [Fact]
    public void Parse_TheSameFaultInEveryTrack_IsOneWarning()
    {
        var file = Parse("4D54686400000006000100030060" + string.Concat(Enumerable.Repeat("4D54726B00000008" + Note, 3)));
        var warning = Assert.Single(file.Warnings);
        Assert.StartsWith("track 1 has no end-of-track event", warning.Reason);
        Assert.EndsWith("(and so at 2 more places)", warning.Reason);
        Assert.All(file.Tracks, track => Assert.Equal(2, track.Events.Count));
    }

    [Fact]
    public void Parse_FormatTwo_PlaysEachSequenceInTurnAtItsOwnTempo()
    {
        // The first has another tempo and leaves a note on; the second starts at the standard tempo, where the first ends.
        var file = Parse(
            "4D54686400000006000200020060"
            + "4D54726B00000013" + "00FF5103030D40" + "00903C40" + "00914040" + "60FF2F00"
            + "4D54726B0000000C" + "30903E40" + "30FF2F00" + "00000000");

        Assert.Equal(0, file.Format);
        var track = Assert.Single(file.Tracks);
        Assert.Equal(
            [
                MidiEvent.Meta(0, MetaType.Tempo, [0x03, 0x0D, 0x40]),
                MidiEvent.ForChannel(0, 0x90, 60, 64),
                MidiEvent.ForChannel(0, 0x91, 64, 64),
                MidiEvent.ForChannel(96, 0x80, 60, 0),
                MidiEvent.ForChannel(96, 0x81, 64, 0),
                MidiEvent.Meta(96, MetaType.Tempo, [0x07, 0xA1, 0x20]),
                MidiEvent.ForChannel(144, 0x90, 62, 64),
                MidiEvent.ForChannel(192, 0x80, 62, 0),
            ],
            track.Events);
        // A quarter of 0.2 s, then half a quarter of 0.5 s.
        Assert.Equal(0.45, new MidiTimeline(file).SecondsAt(144), 9);
    }

    // Once a bug: a pedal that the first sequence leaves down held the notes of the second.
    [Fact]
    public void Parse_FormatTwoWithAPedalLeftDown_StartsTheNextSequenceAtRest()
    {
        var file = Parse(
            "4D54686400000006000200020060"
            + "4D54726B0000000F" + "00C105" + "00B1407F" + "60914040" + "00FF2F00"
            + "4D54726B0000000C" + "30913E40" + "30FF2F00");

        var second = Assert.Single(file.Tracks).Events.SkipWhile(item => item is not { Kind: 0x80 }).ToList();
        Assert.Contains(second, item => item is { Kind: 0xB0, Channel: 1, Data1: 121 });
        Assert.Contains(second, item => item is { Kind: 0xC0, Channel: 1, Data1: 0 });
        Assert.True(second.FindIndex(item => item.Kind == 0xC0) < second.FindIndex(item => item.Kind == 0x90));
    }

    [Fact]
    public void Parse_EveryTruncation_PlaysWhatIsThere()
    {
        var whole = Convert.FromHexString(Example);
        var expected = MidiFileReader.Parse(whole, "file.mid").Tracks[0].Events;
        for (var length = 0; length < whole.Length; length++)
        {
            if (length < 22)
            {
                var problem = Assert.Throws<MidiFileException>(() => MidiFileReader.Parse(whole.AsSpan(0, length), "file.mid"));
                Assert.InRange(problem.Offset, 0, length);
                continue;
            }

            var file = MidiFileReader.Parse(whole.AsSpan(0, length), "file.mid");
            Assert.Equal(expected.Take(file.Tracks[0].Events.Count), file.Tracks[0].Events);
            Assert.Contains($"but {length - 22} are left in the file", Assert.Single(file.Warnings).Reason);
        }
    }

    [Fact]
    public void Parse_LengthsThatAreLies_AreNotBelieved()
    {
        // 65,535 tracks and contents of 256 MB claimed in a few bytes.
        var hex = "4D546864000000060001FFFF0060" + "4D54726B0000000A" + "00FF01FFFFFF7F00000000";
        var before = GC.GetAllocatedBytesForCurrentThread();
        Assert.Equal(0, Parse(hex).Tracks.Sum(track => track.Events.Count));
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 100_000);
    }

    [Fact]
    public void Read_FileOfMoreEventsThanAreRead_IsRefused()
    {
        // Running status: two bytes per event.
        var events = MidiFileReader.MostEvents + 1;
        var length = 3 + (2 * (events - 1)) + 4;
        var bytes = new byte[22 + length];
        Convert.FromHexString(Header0 + "4D54726B").CopyTo(bytes, 0);
        System.Buffers.Binary.BinaryPrimitives.WriteInt32BigEndian(bytes.AsSpan(18), length);
        bytes[23] = 0xC0;
        var problem = Assert.Throws<MidiFileException>(() => MidiFileReader.Parse(bytes, "file.mid"));
        Assert.Contains("events", problem.Reason);
    }

    private static MidiFile Parse(string hex) => MidiFileReader.Parse(Convert.FromHexString(hex), "file.mid");
}
