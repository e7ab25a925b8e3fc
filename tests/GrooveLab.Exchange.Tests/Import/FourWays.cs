using System.Runtime.CompilerServices;
using System.Text;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>One song typed by hand in each format.</summary>
internal static class FourWays
{
    /// <summary>The song as MusicXML.</summary>
    public static byte[] MusicXml => File.ReadAllBytes(PathOf("slack-water.musicxml"));

    /// <summary>The song as a MIDI file.</summary>
    public static byte[] Midi => MidiOf(File.ReadAllText(PathOf("slack-water.mid.txt")));

    /// <summary>The song in ABC.</summary>
    public static byte[] Abc => File.ReadAllBytes(PathOf("slack-water.abc"));

    /// <summary>The song as words with chords above.</summary>
    public static byte[] Words => File.ReadAllBytes(PathOf("slack-water.txt"));

    /// <summary>A MIDI file of format 0, 480 ticks a quarter, from lines of a delta time in ticks, the bytes of an event, and a remark after #.</summary>
    public static byte[] MidiOf(string text)
    {
        var track = new List<byte>();
        foreach (var line in text.Split('\n').Select(line => line.Split('#')[0].Split(' ', StringSplitOptions.RemoveEmptyEntries)).Where(line => line.Length > 0))
        {
            var delta = uint.Parse(line[0], System.Globalization.CultureInfo.InvariantCulture);
            for (var shift = 21; shift >= 0; shift -= 7)
            {
                if (shift == 0 || delta >> shift != 0)
                {
                    track.Add((byte)(((delta >> shift) & 127) | (shift == 0 ? 0u : 128u)));
                }
            }

            track.AddRange(line.Skip(1).SelectMany(Convert.FromHexString));
        }

        return [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, 1, 0xE0, .. "MTrk"u8, (byte)(track.Count >> 24), (byte)((track.Count >> 16) & 255), (byte)((track.Count >> 8) & 255), (byte)(track.Count & 255), .. track];
    }

    private static string PathOf(string name, [CallerFilePath] string here = "") => Path.Combine(Path.GetDirectoryName(here)!, "FourWays", name);
}
