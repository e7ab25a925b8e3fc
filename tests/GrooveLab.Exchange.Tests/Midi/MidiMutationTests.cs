using GrooveLab.Exchange.Midi;
using GrooveLab.Music.Bars;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Any file is either rejected with byte and reason, or can be played.</summary>
public sealed class MidiMutationTests
{
    [Fact]
    public void Parse_TenThousandMutatedFiles_AreRefusedWithAReasonOrLaidOut()
    {
        var originals = Originals();
        Assert.All(originals, bytes => LayOut(MidiFileReader.Parse(bytes, "original.mid"), bytes.Length));
        var refused = 0;
        var played = 0;
        var warned = new HashSet<string>();
        for (var seed = 0; seed < 10_000; seed++)
        {
            var random = new Random(seed);
            var bytes = Mutated(originals[seed % originals.Count], random);
            var before = GC.GetAllocatedBytesForCurrentThread();
            try
            {
                var file = MidiFileReader.Parse(bytes, "mutated.mid");
                LayOut(file, bytes.Length);
                foreach (var warning in file.Warnings)
                {
                    Assert.InRange(warning.Offset, 0, bytes.Length);
                    warned.Add(string.Concat(warning.Reason.Where(char.IsLetter)));
                }

                played++;
            }
            catch (MidiFileException problem)
            {
                Assert.NotEmpty(problem.Reason);
                Assert.InRange(problem.Offset, 0, bytes.Length);
                refused++;
            }

            // An event can be two bytes in a file, but takes this many in memory.
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 20_000 + (400L * bytes.Length));
        }

        // Both kinds must occur, or the mutations test only half of the cases.
        Assert.True(refused > 1500 && played > 1500, $"{refused} refused, {played} played");
        Assert.True(warned.Count > 10, string.Join('\n', warned));
    }

    private static void LayOut(MidiFile file, int bytes)
    {
        var timeline = new MidiTimeline(file);
        var frame = 0L;
        var events = timeline.ChannelEvents(48_000);
        // In format 2, notes still on where a sequence ends are ended.
        Assert.InRange(events.Length, 0, 2 * bytes);
        foreach (var (at, item) in events)
        {
            Assert.InRange(at, frame, MidiTimeline.LastFrame);
            Assert.InRange(item.Channel, 0, (MidiTimeline.ChannelsOfPort * MidiTimeline.Ports) - 1);
            Assert.InRange(item.Number, 0, 127);
            Assert.InRange(item.Value, 0, item.Kind == ChannelEventKind.PitchWheel ? 16_383 : 127);
            frame = at;
        }

        Assert.InRange(timeline.FrameAt(timeline.EndTick, 48_000), frame, MidiTimeline.LastFrame);
        _ = file.Tracks.Sum(track => track.Name?.Length ?? 0);
    }

    private static List<byte[]> Originals()
    {
        var short_ = Exports.OfText("short", "format = 1\ntitle = \"T\"\nkey = \"C\"\ntempo = \"bar = 60\"\nmeter = \"5/8 3+2\"\n[[section]]\nchords = \"| C |\"\n");
        var varied = new MidiFile(
            1,
            MidiDivision.Smpte(25, 40),
            [
                new MidiTrack(
                    [
                        MidiEvent.SystemExclusive(0, 0xF0, [0x7E, 0x7F, 9, 1, 0xF7]),
                        MidiEvent.Meta(0, MetaType.Port, [1]),
                        MidiEvent.ForChannel(5, 0xE2, 0, 70),
                        MidiEvent.ForChannel(6, 0xD2, 90),
                        MidiEvent.SystemExclusive(7, 0xF7, [0xF3, 1]),
                    ],
                    400),
                new MidiTrack([MidiEvent.ForChannel(0, 0xC2, 40), MidiEvent.ForChannel(1000, 0x92, 60, 60), MidiEvent.ForChannel(70_000, 0x82, 60, 0)], 70_000),
            ]);
        // With running status, which our own writer does not use.
        var running = Convert.FromHexString(
            "4D546864000000060000000101E0" + "4D54726B00000031" + "00FF510307A120" + "00C005" + "00903C40" + "103C00" + "003E40" + "104040" + "103E00"
            + "004000" + "00B00740" + "0A0B40" + "0A4000" + "8F00F002" + "01F7" + "00FF2F00");
        var sequences = (byte[])MidiFileWriter.ToBytes(varied).Clone();
        sequences[9] = 2;
        byte[] wrapped = [.. "RIFF"u8, 0, 1, 0, 0, .. "RMIDdata"u8, (byte)running.Length, 0, 0, 0, .. running, .. "DISP"u8, 2, 0, 0, 0, 1, 0];
        return
        [
            MidiFileWriter.ToBytes(short_.Felt.File), MidiFileWriter.ToBytes(varied), running, MidiFileWriter.ToBytes(short_.Exact.File), sequences,
            wrapped,
        ];
    }

    private static byte[] Mutated(byte[] original, Random random)
    {
        var bytes = original.ToList();
        // In small files a mutation always hits something relevant; in large ones mostly near the start, which has structure.
        for (var count = random.Next(1, 4); count > 0 && bytes.Count > 1; count--)
        {
            var reach = random.Next(2) == 0 ? bytes.Count : Math.Min(bytes.Count, 200);
            var at = random.Next(reach);
            var length = Math.Min(random.Next(1, 12), bytes.Count - at);
            switch (random.Next(14))
            {
                case 6:
                    bytes.AddRange(bytes.GetRange(at, length));
                    break;
                case 7:
                    // The length of a chunk, of which the last is always there.
                    var chunk = bytes.LastIndexOf((byte)'k', bytes.Count - 1);
                    if (chunk >= 0 && chunk + 4 < bytes.Count)
                    {
                        bytes[chunk + 4] = (byte)random.Next(256);
                    }

                    break;
                case 0:
                    bytes[at] = (byte)random.Next(256);
                    break;
                case 1:
                    bytes[at] ^= (byte)(1 << random.Next(8));
                    break;
                case 2:
                    bytes[at] = (byte)(random.Next(2) == 0 ? 0 : 255);
                    break;
                case 3:
                    bytes.RemoveRange(at, length);
                    break;
                case 4:
                    bytes.InsertRange(at, bytes.GetRange(random.Next(bytes.Count - length), length));
                    break;
                case 5:
                    bytes.RemoveRange(at, bytes.Count - at);
                    break;
                default:
                    // Data bytes stay data bytes: most of these files can be played.
                    bytes[at] = (byte)(bytes[at] < 128 ? random.Next(128) : 128 + random.Next(128));
                    break;
            }
        }

        return [.. bytes];
    }
}
