using System.Buffers.Binary;
using System.Diagnostics;
using System.Runtime.InteropServices;

namespace GrooveLab.Testing.Sound;

/// <summary>Renders notes with Debian's <c>fluidsynth</c> command, for comparison.</summary>
public static class ReferenceRenderer
{
    /// <summary>A General MIDI bank of 6 MB in Debian.</summary>
    public const string SmallBank = "/usr/share/sounds/sf2/TimGM6mb.sf2";

    /// <summary>A General MIDI bank of 148 MB in Debian.</summary>
    public const string LargeBank = "/usr/share/sounds/sf2/FluidR3_GM.sf2";

    /// <summary>The sample rate, in Hz.</summary>
    public const int Rate = 48_000;

    private const int TicksPerSecond = 960;

    /// <summary>Renders events. Times in seconds should be multiples of 0.5, which fall on fluidsynth's grid of 64 frames.</summary>
    /// <param name="events">Times and MIDI messages.</param>
    /// <param name="bank">The bank's file.</param>
    /// <param name="reverb">With its reverb.</param>
    /// <param name="chorus">With its chorus.</param>
    /// <param name="polyphony">The most voices at once.</param>
    public static (float[] Left, float[] Right) Render(
        IEnumerable<(double Seconds, byte[] Message)> events, string bank = SmallBank, bool reverb = false, bool chorus = false, int polyphony = 256)
    {
        var command = References.RequireTool("fluidsynth");
        References.Require(File.Exists(bank), $"{bank} is not installed");
        var folder = Directory.CreateTempSubdirectory("groovelab-reference");
        try
        {
            var midi = Path.Combine(folder.FullName, "notes.mid");
            var wave = Path.Combine(folder.FullName, "notes.wav");
            File.WriteAllBytes(midi, MidiFile(events));
            string[] arguments =
            [
                "-ni", "-F", wave, "-r", $"{Rate}", "-R", reverb ? "1" : "0", "-C", chorus ? "1" : "0", "-g", "1", "-O", "float", "-T", "wav",
                "-o", $"synth.polyphony={polyphony}", bank, midi,
            ];
            var start = new ProcessStartInfo(command, arguments) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
            using var process = Process.Start(start)!;
            var errors = process.StandardError.ReadToEndAsync();
            process.StandardOutput.ReadToEnd();
            process.WaitForExit();
            if (process.ExitCode != 0)
                throw new InvalidOperationException(errors.Result);
            return ReadWave(File.ReadAllBytes(wave));
        }
        finally
        {
            folder.Delete(recursive: true);
        }
    }

    private static byte[] MidiFile(IEnumerable<(double Seconds, byte[] Message)> events)
    {
        // 480 ticks a quarter at the default tempo of half a second a quarter.
        var track = new List<byte>();
        var last = 0;
        foreach (var (seconds, message) in events.OrderBy(e => e.Seconds))
        {
            var tick = (int)Math.Round(seconds * TicksPerSecond);
            track.AddRange(Length(tick - last));
            track.AddRange(message);
            last = tick;
        }
        track.AddRange([.. Length(TicksPerSecond), 0xff, 0x2f, 0]);
        var header = new byte[22];
        "MThd"u8.CopyTo(header);
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(4), 6);
        BinaryPrimitives.WriteInt16BigEndian(header.AsSpan(10), 1);
        BinaryPrimitives.WriteInt16BigEndian(header.AsSpan(12), 480);
        "MTrk"u8.CopyTo(header.AsSpan(14));
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(18), track.Count);
        return [.. header, .. track];
    }

    private static byte[] Length(int value)
    {
        var bytes = new List<byte> { (byte)(value & 0x7f) };
        for (value >>= 7; value > 0; value >>= 7)
            bytes.Insert(0, (byte)((value & 0x7f) | 0x80));
        return [.. bytes];
    }

    private static (float[] Left, float[] Right) ReadWave(byte[] file)
    {
        var at = file.AsSpan().IndexOf("data"u8);
        var samples = MemoryMarshal.Cast<byte, float>(file.AsSpan(at + 8));
        var left = new float[samples.Length / 2];
        var right = new float[samples.Length / 2];
        for (var i = 0; i < left.Length; i++)
            (left[i], right[i]) = (samples[2 * i], samples[(2 * i) + 1]);
        return (left, right);
    }
}
