using System.Diagnostics;
using GrooveLab.Testing;

namespace GrooveLab.Audio.Tests.Vorbis;

/// <summary>Streams that Debian's <c>sox</c> writes and reads.</summary>
internal static class VorbisStreams
{
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
