using GrooveLab.Exchange.Midi;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Valid files are read; invalid ones are rejected with the byte of the problem.</summary>
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
    [InlineData(Header0 + "4D54726B00000017" + "00F0057E7F0901F7" + "00F003431200" + "01F7020102" + "00FF2F00" + "00")]
    // A longer header than needed, an unknown chunk, an unknown meta event, a long tempo, and data after the end.
    [InlineData("4D5468640000000800000001006012344142434400000003010203" + "4D54726B00000011" + "00FF7F0101" + "00FF51040102030" + "400FF2F00" + "FFFF")]
    public void Parse_WhatIsUnusualButAllowed_IsRead(string hex)
    {
        // The last byte of the first case is after the track.
        Assert.NotEmpty(Parse(hex).Tracks[0].Events);
    }

    [Theory]
    [InlineData("", 0, "MThd")]
    [InlineData("00", 0, "MThd")]
    [InlineData("524946460000000052", 0, "RIFF")]
    [InlineData("4D546864", 4, "length of the header")]
    [InlineData("4D54686400000006", 4, "6 bytes, but only 0 are left")]
    [InlineData("4D5468640000000400000001", 8, "4 bytes long; 6")]
    [InlineData("4D54686400000006000200010060" + EmptyTrack, 8, "format 2")]
    [InlineData("4D54686400000006000000020060" + EmptyTrack, 10, "2 tracks in format 0")]
    [InlineData("4D54686400000006000100000060", 10, "0 tracks")]
    [InlineData("4D54686400000006000000010000" + EmptyTrack, 12, "0 ticks")]
    [InlineData("4D5468640000000600000001FF01" + EmptyTrack, 12, "1 frames a second")]
    [InlineData("4D5468640000000600000001E700" + EmptyTrack, 12, "0 ticks in 25 frames")]
    [InlineData(Header1 + EmptyTrack, 26, "after 1 of 2 tracks")]
    [InlineData(Header0 + "4D54726BFFFFFFFF00FF2F00", 18, "4294967295 bytes, but only 4 are left")]
    [InlineData(Header0 + "4D54726B0000000000", 22, "no end-of-track")]
    [InlineData(Header0 + "4D54726B00000003009040", 25, "ends in a message's data")]
    [InlineData(Header0 + "4D54726B0000000400403C40", 23, "data byte 40")]
    [InlineData(Header0 + "4D54726B0000000500F1000000", 23, "status byte F1")]
    [InlineData(Header0 + "4D54726B0000000500F8000000", 23, "status byte F8")]
    [InlineData(Header0 + "4D54726B00000008" + "00903C80" + "00FF2F00", 25, "80 where a data byte")]
    [InlineData(Header0 + "4D54726B00000008" + "0090FF40" + "00FF2F00", 24, "FF where a data byte")]
    // A system exclusive event ends running status.
    [InlineData(Header0 + "4D54726B0000000E" + "00903C40" + "00F001F7" + "3C4000FF2F00", 31, "data byte 40")]
    [InlineData(Header0 + "4D54726B00000009" + "8181818100" + "00FF2F00", 22, "more than four bytes")]
    [InlineData(Header0 + "4D54726B00000008" + "00FF0110" + "00FF2F00", 25, "16 bytes, but only 4 are left")]
    [InlineData(Header0 + "4D54726B00000008" + "00FFFFFFFF7F0000", 24, "type FF")]
    [InlineData(Header0 + "4D54726B0000000A" + "00F0FFFFFF7F" + "00FF2F00", 24, "268435455 bytes")]
    [InlineData(Header0 + "4D54726B0000000A" + "00FF51020102" + "00FF2F00", 26, "of 2 bytes; 3")]
    [InlineData(Header0 + "4D54726B0000000B" + "00FF5103000000" + "00FF2F00", 26, "0 microseconds")]
    [InlineData(Header0 + "4D54726B00000009" + "00FF580105" + "00FF2F00", 26, "of 1 bytes; 4")]
    [InlineData(Header0 + "4D54726B00000008" + "00FF5900" + "00FF2F00", 26, "of 0 bytes; 2")]
    [InlineData(Header0 + "4D54726B00000008" + "00FF2F00" + "00FF2F00", 26, "4 bytes in the track after its end")]
    public void Parse_BrokenFile_SaysWhereAndWhy(string hex, int offset, string reason)
    {
        var problem = Assert.Throws<MidiFileException>(() => Parse(hex));
        Assert.Contains(reason, problem.Reason);
        Assert.Equal(offset, problem.Offset);
        Assert.StartsWith("file.mid: byte ", problem.Message);
    }

    [Fact]
    public void Parse_EveryTruncation_IsRefused()
    {
        var whole = Convert.FromHexString(Example);
        for (var length = 0; length < whole.Length; length++)
        {
            var problem = Assert.Throws<MidiFileException>(() => MidiFileReader.Parse(whole.AsSpan(0, length), "file.mid"));
            Assert.InRange(problem.Offset, 0, length);
        }
    }

    [Fact]
    public void Parse_LengthsThatAreLies_AreNotBelieved()
    {
        // 65,535 tracks and contents of 256 MB claimed in a few bytes.
        var hex = "4D546864000000060001FFFF0060" + "4D54726B0000000A" + "00FF01FFFFFF7F00000000";
        var before = GC.GetAllocatedBytesForCurrentThread();
        Assert.Throws<MidiFileException>(() => Parse(hex));
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
