using System.Buffers.Binary;
using System.Runtime.InteropServices;
using System.Text;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>Compares two WAV files, byte for byte.</summary>
internal static class WaveComparison
{
    private const int Channels = 2;
    private const int BytesPerFrame = 2 * Channels;

    /// <summary>The differences; null for none.</summary>
    /// <param name="baseFile">The base's file.</param>
    /// <param name="currentFile">The current program's.</param>
    /// <param name="bar">Returns the name of the bar that sounds at a second of the file.</param>
    public static Difference? Of(byte[] baseFile, byte[] currentFile, Func<double, string> bar)
    {
        if (baseFile.AsSpan().SequenceEqual(currentFile))
        {
            return null;
        }

        var (rate, before) = Samples(baseFile);
        var (otherRate, now) = Samples(currentFile);
        if (rate != otherRate || rate == 0)
        {
            return new Difference(string.Empty, "header", $"{rate} Hz", $"{otherRate} Hz");
        }

        var first = before.CommonPrefixLength(now);
        var most = 0;
        for (var i = first; i < Math.Min(before.Length, now.Length); i++)
        {
            most = Math.Max(most, Math.Abs(before[i] - now[i]));
        }

        var seconds = (double)(first / Channels) / rate;
        var at = first == Math.Min(before.Length, now.Length) ? "only in length or header" : $"first at {seconds:0.000} s, {bar(seconds)}";
        var decibels = most == 0 ? "no sample" : $"{20 * Math.Log10(most / 32768.0):0.0} dBFS at most";
        return new Difference(string.Empty, $"samples ({at}; {decibels})", $"{before.Length / Channels} frames", $"{now.Length / Channels} frames");
    }

    private static (int Rate, short[] Samples) Samples(byte[] file)
    {
        var rate = 0;
        for (var at = 12; at + 8 <= file.Length;)
        {
            var name = Encoding.ASCII.GetString(file, at, 4);
            var length = BinaryPrimitives.ReadInt32LittleEndian(file.AsSpan(at + 4));
            if (name == "fmt ")
            {
                rate = BinaryPrimitives.ReadInt32LittleEndian(file.AsSpan(at + 12));
            }
            else if (name == "data")
            {
                length = Math.Clamp(length, 0, file.Length - at - 8);
                return (rate, MemoryMarshal.Cast<byte, short>(file.AsSpan(at + 8, length / BytesPerFrame * BytesPerFrame)).ToArray());
            }

            at += 8 + Math.Max(0, length) + (length & 1);
        }

        return (rate, []);
    }
}
