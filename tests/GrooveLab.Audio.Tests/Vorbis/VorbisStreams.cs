using System.Buffers.Binary;
using System.Diagnostics;
using GrooveLab.Testing;

namespace GrooveLab.Audio.Tests.Vorbis;

/// <summary>Streams of a real bank, and those that Debian's <c>sox</c> writes and reads.</summary>
internal static class VorbisStreams
{
    private const string RealBank = "/usr/share/sounds/sf3/FluidR3Mono_GM.sf3";

    /// <summary>Some sound as a stream.</summary>
    /// <param name="rate">Sample rate in Hz.</param>
    /// <param name="channels">Number of channels.</param>
    /// <param name="quality">The encoder's quality, -1 to 10.</param>
    /// <param name="sound">The sound, in sox's words.</param>
    public static byte[] Encode(int rate, int channels, int quality, params string[] sound) => Sox(
        ".ogg", path => ["-D", "-R", "-n", "-r", $"{rate}", "-c", $"{channels}", "-C", $"{quality}", path, .. sound]);

    /// <summary>The first channel of a stream as 16-bit points.</summary>
    public static short[] Decode(byte[] stream)
    {
        var source = Path.Combine(Path.GetTempPath(), $"groovelab-vorbis-{Guid.NewGuid():N}.ogg");
        File.WriteAllBytes(source, stream);
        try
        {
            var raw = Sox(".raw", path => ["-D", source, "-b", "16", "-e", "signed", "-L", path, "remix", "1"]);
            return System.Runtime.InteropServices.MemoryMarshal.Cast<byte, short>(raw).ToArray();
        }
        finally
        {
            File.Delete(source);
        }
    }

    /// <summary>The streams of Debian's fluidr3mono-gm-soundfont.</summary>
    public static List<(string Name, byte[] Data)> OfARealBank()
    {
        References.Require(File.Exists(RealBank), $"{RealBank} is not installed");
        var file = File.ReadAllBytes(RealBank);
        var smpl = file.AsSpan().IndexOf("smpl"u8) + 8;
        var shdr = file.AsSpan().LastIndexOf("shdr"u8);
        var count = (BinaryPrimitives.ReadInt32LittleEndian(file.AsSpan(shdr + 4)) / 46) - 1;
        var streams = new List<(string Name, byte[] Data)>();
        for (var i = 0; i < count; i++)
        {
            var record = file.AsSpan(shdr + 8 + (46 * i), 46);
            var start = BinaryPrimitives.ReadInt32LittleEndian(record[20..]);
            var end = BinaryPrimitives.ReadInt32LittleEndian(record[24..]);
            streams.Add((System.Text.Encoding.ASCII.GetString(record[..20]).Split('\0')[0], file[(smpl + start)..(smpl + end)]));
        }
        return streams;
    }

    private static byte[] Sox(string ending, Func<string, string[]> arguments)
    {
        var command = References.RequireTool("sox");
        var path = Path.Combine(Path.GetTempPath(), $"groovelab-vorbis-{Guid.NewGuid():N}{ending}");
        using var process = Process.Start(new ProcessStartInfo(command, arguments(path)) { UseShellExecute = false, RedirectStandardError = true })!;
        var errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        References.Require(process.ExitCode == 0, $"this sox cannot read or write Vorbis:  {errors}");
        try
        {
            return File.ReadAllBytes(path);
        }
        finally
        {
            File.Delete(path);
        }
    }
}
