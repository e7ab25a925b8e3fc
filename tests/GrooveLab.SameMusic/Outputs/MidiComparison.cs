using System.Buffers.Binary;
using System.Text;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>Compares two MIDI files, byte for byte.</summary>
internal static class MidiComparison
{
    /// <summary>The first difference; null for none.</summary>
    public static Difference? Of(byte[] baseFile, byte[] currentFile)
    {
        var at = baseFile.AsSpan().CommonPrefixLength(currentFile);
        if (at == baseFile.Length && at == currentFile.Length)
        {
            return null;
        }

        return new Difference(string.Empty, $"byte {at}, {Track(baseFile, at)}", Shown(baseFile, at), Shown(currentFile, at));
    }

    private static string Shown(byte[] file, int at) =>
        (at < file.Length ? Convert.ToHexString(file, at, Math.Min(4, file.Length - at)) : "the end") + $" ({file.Length} bytes)";

    private static string Track(byte[] file, int place)
    {
        var track = 0;
        for (var at = 0; at + 8 <= file.Length && at <= place;)
        {
            track += Encoding.ASCII.GetString(file, at, 4) == "MTrk" ? 1 : 0;
            at += 8 + Math.Max(0, BinaryPrimitives.ReadInt32BigEndian(file.AsSpan(at + 4)));
        }

        return track == 0 ? "in the header" : $"in track {track}";
    }
}
