using System.Buffers.Binary;

namespace GrooveLab.Benchmarks;

/// <summary>Writes a list of messages as a Standard MIDI File of format 0, with only what the benchmark needs.</summary>
internal static class SynthMidiFile
{
    /// <summary>Writes the file.</summary>
    public static void Write(string path, IEnumerable<(int Tick, byte[] Message)> events)
    {
        var track = new List<byte>();
        var last = 0;
        foreach (var (tick, message) in events)
        {
            AddLength(track, tick - last);
            track.AddRange(message);
            last = tick;
        }
        AddLength(track, 2 * SynthScore.TicksPerSecond);
        track.AddRange([0xff, 0x2f, 0]);

        var header = new byte[22];
        "MThd"u8.CopyTo(header);
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(4), 6);
        BinaryPrimitives.WriteInt16BigEndian(header.AsSpan(10), 1);
        // The default tempo has two quarters a second.
        BinaryPrimitives.WriteInt16BigEndian(header.AsSpan(12), SynthScore.TicksPerSecond / 2);
        "MTrk"u8.CopyTo(header.AsSpan(14));
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(18), track.Count);
        File.WriteAllBytes(path, [.. header, .. track]);
    }

    private static void AddLength(List<byte> track, int value)
    {
        for (var shift = 21; shift > 0; shift -= 7)
        {
            if (value >> shift != 0)
                track.Add((byte)(((value >> shift) & 0x7f) | 0x80));
        }
        track.Add((byte)(value & 0x7f));
    }
}
