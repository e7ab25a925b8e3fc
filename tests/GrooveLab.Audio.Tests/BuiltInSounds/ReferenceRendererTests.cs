using System.Buffers.Binary;
using System.Diagnostics;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The bank played by another renderer: FluidSynth (Debian package <c>fluidsynth</c>) into a file, dry.</summary>
public sealed class ReferenceRendererTests
{
    private const int Rate = 48000;
    private const int SlotMilliseconds = 900;

    [Theory]
    [MemberData(nameof(Instruments.Programs), MemberType = typeof(Instruments))]
    public async Task FluidSynth_PlaysTheRange_InTuneAndWithoutClipping(int program)
    {
        var tool = References.RequireTool("fluidsynth");
        var (name, _, low, high, plucked) = Instruments.Of(program);
        var folder = Directory.CreateTempSubdirectory("groovelab-reference-").FullName;
        try
        {
            string bank = Path.Combine(folder, "bank.sf2"), midi = Path.Combine(folder, "notes.mid"), wave = Path.Combine(folder, "notes.wav");
            await File.WriteAllBytesAsync(bank, BankUnderTest.Instance.Bytes, TestContext.Current.CancellationToken);
            int[] keys = [.. Enumerable.Range(low, high - low + 1).Where(k => (k - low) % 3 == 0)];
            await File.WriteAllBytesAsync(midi, Notes(program, keys), TestContext.Current.CancellationToken);
            using (var process = Process.Start(new ProcessStartInfo(tool, ["-q", "-n", "-i", "-R", "0", "-C", "0", "-g", "1", "-r", "48000", "-F", wave, bank, midi])
            {
                UseShellExecute = false,
                RedirectStandardOutput = true,
                RedirectStandardError = true,
            })!)
            {
                await process.WaitForExitAsync(TestContext.Current.CancellationToken);
                Assert.Equal(0, process.ExitCode);
            }

            var sound = Left(await File.ReadAllBytesAsync(wave, TestContext.Current.CancellationToken));
            Assert.True(sound.Max(Math.Abs) is > 0.01 and < 0.99, $"{name}: peak {sound.Max(Math.Abs):F3}");

            // The vibrato begins after the measured stretch.
            for (var i = 0; i < keys.Length; i++)
            {
                double start = i * SlotMilliseconds / 1000.0, expected = Measure.KeyFrequency(keys[i]);
                (var from, var window, var hop) = program == 28 ? (0.01, 0.08, 0.06) : plucked ? (0.03, 0.2, 0.2) : (0.12, 0.15, 0.12);
                var cents = Measure.Cents(Measure.Frequency(sound, Rate, expected, start + from, window, hop), expected);
                Assert.True(Math.Abs(cents) <= 3, $"{name}, key {keys[i]}: {cents:F2} cents");
            }
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    // A Standard MIDI File of format 0, a thousand ticks to a quarter of one second.
    private static byte[] Notes(int program, int[] keys)
    {
        var track = new List<byte> { 0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40, 0, 0xC0, (byte)program };
        foreach (var key in keys)
        {
            track.AddRange([0, 0x90, (byte)key, 100]);
            track.AddRange([.. Length(SlotMilliseconds - 250), 0x80, (byte)key, 0]);
            track.AddRange([.. Length(250), 0xB0, 120, 0]);
        }

        track.AddRange([.. Length(500), 0xFF, 0x2F, 0]);
        byte[] header = [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, 0x03, 0xE8, .. "MTrk"u8, 0, 0, 0, 0];
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(18), track.Count);
        return [.. header, .. track];
    }

    private static byte[] Length(int ticks) => [(byte)(0x80 | (ticks >> 7)), (byte)(ticks & 0x7F)];

    private static double[] Left(byte[] wave)
    {
        var sound = new double[(wave.Length - 44) / 4];
        for (var i = 0; i < sound.Length; i++)
        {
            sound[i] = BinaryPrimitives.ReadInt16LittleEndian(wave.AsSpan(44 + (4 * i))) / 32768.0;
        }

        return sound;
    }
}
