using CsCheck;
using GrooveLab.Exchange.Midi;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Bytes against Standard MIDI Files 1.0 (RP-001), and written files can be read back.</summary>
public sealed class MidiFileWriterTests
{
    private static readonly Gen<MidiEvent> AnyEvent =
        Gen.Select(Gen.Int[0, 5], Gen.Int[0x80, 0xEF], Gen.Int[0, 127], Gen.Int[0, 127], Gen.Byte.Array[0, 200]).Select((kind, status, a, b, content) => kind switch
        {
            0 => MidiEvent.Meta(0, a is MetaType.EndOfTrack or MetaType.Tempo or MetaType.TimeSignature or MetaType.KeySignature ? 1 : a, content),
            1 => MidiEvent.SystemExclusive(0, b % 2 == 0 ? 0xF0 : 0xF7, content),
            2 => MidiEvent.Meta(0, MetaType.Tempo, [(byte)a, (byte)b, 1]),
            _ => MidiEvent.ForChannel(0, status, a, (status & 0xF0) is 0xC0 or 0xD0 ? 0 : b),
        });

    private static readonly Gen<MidiTrack> AnyTrack =
        Gen.Select(Gen.Select(Gen.Long[0, 300_000], AnyEvent).Array[0, 60], Gen.Int[0, 0x0FFF_FFFF]).Select((items, rest) =>
        {
            var tick = 0L;
            var events = new List<MidiEvent>();
            foreach (var (delta, item) in items)
            {
                tick += delta;
                events.Add(item.IsMeta ? MidiEvent.Meta(tick, item.Data1, item.Content.ToArray())
                    : item.IsChannelMessage ? MidiEvent.ForChannel(tick, item.Status, item.Data1, item.Data2)
                    : MidiEvent.SystemExclusive(tick, item.Status, item.Content.ToArray()));
            }

            return new MidiTrack(events, tick + rest);
        });

    private static readonly Gen<MidiDivision> AnyDivision =
        Gen.Select(Gen.Int[1, 32767], Gen.Int[0, 7], Gen.Int[1, 255]).Select((ticks, kind, share) => kind switch
        {
            0 => MidiDivision.Smpte(24, share),
            1 => MidiDivision.Smpte(25, share),
            2 => MidiDivision.Smpte(29, share),
            3 => MidiDivision.Smpte(30, share),
            _ => MidiDivision.PerQuarter(ticks),
        });

    // The table of variable-length quantities in RP-001.
    [Theory]
    [InlineData(0x00000000, "00")]
    [InlineData(0x00000040, "40")]
    [InlineData(0x0000007F, "7F")]
    [InlineData(0x00000080, "8100")]
    [InlineData(0x00002000, "C000")]
    [InlineData(0x00003FFF, "FF7F")]
    [InlineData(0x00004000, "818000")]
    [InlineData(0x00100000, "C08000")]
    [InlineData(0x001FFFFF, "FFFF7F")]
    [InlineData(0x00200000, "81808000")]
    [InlineData(0x08000000, "C0808000")]
    [InlineData(0x0FFFFFFF, "FFFFFF7F")]
    public void ToBytes_DeltaTime_IsTheSpecificationsQuantity(int delta, string bytes) =>
        Assert.Equal(bytes + "903C40" + "00FF2F00", Body(MidiEvent.ForChannel(delta, 0x90, 60, 64)));

    // FF 51 is microseconds per quarter in three bytes: 120 per minute is 07 A1 20 (RP-001; check of the value: 60,000,000 / 120).
    [Fact]
    public void ToBytes_Tempo_IsFF51()
    {
        var file = Exports.OfText("tempo", "format = 1\ntitle = \"T\"\nkey = \"C\"\ntempo = \"quarter = 120\"\nmeter = \"4/4\"\n[[section]]\nchords = \"| C |\"\n").Exact.File;
        Assert.Contains("FF510307A120", Convert.ToHexString(MidiFileWriter.ToBytes(file)));
        // Eighth = 240 is the same tempo.
        file = Exports.OfText("tempo", "format = 1\ntitle = \"T\"\nkey = \"C\"\ntempo = \"eighth = 240\"\nmeter = \"7/8\"\n[[section]]\nchords = \"| C |\"\n").Exact.File;
        Assert.Contains("FF510307A120", Convert.ToHexString(MidiFileWriter.ToBytes(file)));
    }

    // FF 58: numerator, denominator as a power of two, MIDI clocks per click, thirty-seconds in 24 clocks. 6/8 is RP-001's own example
    // with a click every three eighths, from memory.
    [Theory]
    [InlineData("6/8 3+3", "06032408")]
    [InlineData("4/4 none", "04021808")]
    [InlineData("5/8 3+2", "05030C08")]
    [InlineData("5/8 2+3", "05030C08")]
    [InlineData("7/16 2+2+3", "07040608")]
    [InlineData("13/32 none", "0D050308")]
    [InlineData("33/64 none", "21061808")]
    [InlineData("3/2 none", "03013008")]
    [InlineData("2/1 none", "02006008")]
    [InlineData("64/4 none", "40021808")]
    [InlineData("9/8 3+3+3", "09032408")]
    [InlineData("7/12 3+2+2", "07030C08")]
    public void TimeSignature_AnyMeter_HasTheSpecificationsBytes(string meter, string bytes)
    {
        Assert.True(BarMeter.TryParse(meter, out var parsed, out _));
        Assert.Equal(bytes, Convert.ToHexString(MidiExport.TimeSignature(parsed)));
    }

    // FF 59: sharps, or flats as a negative byte; 1 for minor (RP-001).
    [Theory]
    [InlineData("C", "0000")]
    [InlineData("A minor", "0001")]
    [InlineData("Eb", "FD00")]
    [InlineData("F# minor", "0301")]
    [InlineData("D dorian", "0001")]
    [InlineData("G mixolydian", "0000")]
    [InlineData("Cb", "F900")]
    [InlineData("C#", "0700")]
    public void KeySignature_AnyKey_HasTheSpecificationsBytes(string key, string bytes) =>
        Assert.Equal(bytes, Convert.ToHexString(MidiExport.KeySignature(Key.Parse(key))));

    [Theory]
    [InlineData(24, 4, "E804")]
    [InlineData(25, 40, "E728")]
    [InlineData(29, 80, "E350")]
    [InlineData(30, 100, "E264")]
    public void ToBytes_FilmFrames_AreANegativeByte(int frames, int ticks, string division)
    {
        var bytes = MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.Smpte(frames, ticks), [new MidiTrack([], 0)]));
        Assert.Equal("4D546864" + "00000006" + "0000" + "0001" + division + "4D54726B" + "00000004" + "00FF2F00", Convert.ToHexString(bytes));
    }

    [Fact]
    public void Parse_WhateverWasWritten_IsTheSame() =>
        Gen.Select(Gen.Int[0, 1], AnyDivision, AnyTrack.Array[1, 5]).Sample((format, division, tracks) =>
        {
            var file = new MidiFile(format, division, format == 0 ? tracks[..1] : tracks);
            Same(file, MidiFileReader.Parse(MidiFileWriter.ToBytes(file), "file"));
        });

    [Fact]
    public void Parse_EveryExport_IsTheSame()
    {
        foreach (var export in Exports.All)
        {
            Same(export.Felt.File, MidiFileReader.Parse(MidiFileWriter.ToBytes(export.Felt.File), export.Name));
        }
    }

    [Fact]
    public void ToBytes_WaitLongerThanANumberCanSay_IsBrokenByEmptyTexts()
    {
        var tick = (3 * MidiFileWriter.LongestDelta) + 5;
        var read = MidiFileReader.Parse(
            MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(1), [new MidiTrack([MidiEvent.ForChannel(tick, 0x90, 1, 1)], tick)])), "file");
        Assert.Equal(MidiEvent.ForChannel(tick, 0x90, 1, 1), read.Tracks[0].Events[^1]);
        Assert.All(read.Tracks[0].Events.SkipLast(1), item => Assert.Equal("", item.Text));
    }

    private static string Body(MidiEvent item)
    {
        var bytes = MidiFileWriter.ToBytes(new MidiFile(0, MidiDivision.PerQuarter(96), [new MidiTrack([item], item.Tick)]));
        return Convert.ToHexString(bytes)[(2 * 22)..];
    }

    private static void Same(MidiFile expected, MidiFile actual)
    {
        Assert.Equal(expected.Format, actual.Format);
        Assert.Equal(expected.Division, actual.Division);
        Assert.Equal(expected.Tracks.Count, actual.Tracks.Count);
        foreach (var (a, b) in expected.Tracks.Zip(actual.Tracks))
        {
            Assert.Equal(a.EndTick, b.EndTick);
            Assert.True(a.Events.SequenceEqual(b.Events));
        }
    }
}
