using System.Buffers.Binary;
using NAudio.Wave;

namespace GrooveLab.Audio.SoundFiles;

/// <summary>The sound does not fit into a WAV file, whose sizes are 32-bit numbers, or a FLAC file, whose number of frames has 36 bits.</summary>
public sealed class WaveFileTooLargeException(long frames, long mostFrames, string format = "WAV")
    : IOException($"A {format} file of this format holds at most {mostFrames} frames, not {frames}; make it shorter, or use a lower rate.")
{
    /// <summary>The number of frames that fit.</summary>
    public long MostFrames { get; } = mostFrames;
}

/// <summary>The sound of a file, in memory.</summary>
/// <param name="SampleRate">Frames a second, in Hz.</param>
/// <param name="Channels">Samples a frame.</param>
/// <param name="Samples">Interleaved, full scale at 1.</param>
public sealed record WaveSound(int SampleRate, int Channels, float[] Samples)
{
    /// <summary>The number of frames.</summary>
    public int Frames => Samples.Length / Channels;
}

/// <summary>
/// Reads and writes WAV files. Source: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991).
/// </summary>
/// <remarks>
/// Written files are plain PCM, format tag 1, with one "fmt " and one "data" chunk. Samples are rounded to nearest without
/// dither: equal sound gives equal bytes, silence stays silence, and stems add up to the mix within their rounding.
/// </remarks>
public static class WaveFile
{
    private const int TagPcm = 1;
    private const int TagFloat = 3;
    private const int TagExtensible = 0xFFFE;

    /// <summary>The most frames in a file: its RIFF size is a 32-bit number.</summary>
    public static long MostFrames(int channels, WaveDepth depth)
    {
        // An odd number of bytes is followed by a padding byte, which counts.
        long room = uint.MaxValue - (PcmWaveWriter.HeaderBytes - 8) - 1;
        return room / (channels * ((int)depth / 8));
    }

    /// <summary>
    /// Writes a number of frames from a source to a file; the file appears complete at the end, or not at all.
    /// </summary>
    /// <param name="path">The path of the file; its folder must exist.</param>
    /// <param name="source">The source.</param>
    /// <param name="frames">The number of frames; if the source ends early, silence follows.</param>
    /// <param name="depth">Bits a sample.</param>
    /// <param name="force">Whether an existing file may be replaced.</param>
    /// <param name="progress">Receives the number of frames written, about every tenth of a second of sound.</param>
    /// <param name="cancellation">Cancels; no file is left.</param>
    /// <exception cref="WaveFileTooLargeException">The frames do not fit; no file was started.</exception>
    /// <exception cref="GrooveLab.Files.FileRefusedException">
    /// The file exists and <paramref name="force"/> is false, or it cannot be written; the message says why.
    /// </exception>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public static void Write(
        string path,
        ISampleProvider source,
        long frames,
        WaveDepth depth = WaveDepth.Sixteen,
        bool force = false,
        IProgress<long>? progress = null,
        CancellationToken cancellation = default) =>
        SoundFile.Write(path, source, frames, new SoundFileOptions { Format = SoundFormat.Wave, Depth = depth, Force = force }, progress, cancellation);

    /// <summary>Reads a whole file of 16- or 24-bit integers or 32-bit floats.</summary>
    /// <exception cref="InvalidDataException">It is not a WAV file, is truncated, or has other samples; the message says which.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    public static WaveSound Read(string path) => Parse(File.ReadAllBytes(path), path);

    /// <summary>Reads a file's bytes.</summary>
    /// <param name="bytes">The whole file.</param>
    /// <param name="name">Its name for error messages.</param>
    /// <exception cref="InvalidDataException">As <see cref="Read"/>.</exception>
    public static WaveSound Parse(ReadOnlySpan<byte> bytes, string name)
    {
        if (bytes.Length < 12 || !bytes[..4].SequenceEqual("RIFF"u8) || !bytes[8..12].SequenceEqual("WAVE"u8))
        {
            throw Bad(name, "it does not start as a RIFF file of form WAVE");
        }

        var tag = 0;
        var channels = 0;
        var rate = 0;
        var bits = 0;
        var rest = bytes[12..];
        while (rest.Length >= 8)
        {
            var id = rest[..4];
            var size = BinaryPrimitives.ReadUInt32LittleEndian(rest[4..]);
            if (size > rest.Length - 8)
            {
                throw Bad(name, "a chunk reaches beyond the end of the file");
            }

            var chunk = rest.Slice(8, (int)size);
            if (id.SequenceEqual("fmt "u8))
            {
                if (size < 16)
                {
                    throw Bad(name, "its format chunk is too short");
                }

                tag = BinaryPrimitives.ReadUInt16LittleEndian(chunk);
                channels = BinaryPrimitives.ReadUInt16LittleEndian(chunk[2..]);
                rate = BinaryPrimitives.ReadInt32LittleEndian(chunk[4..]);
                bits = BinaryPrimitives.ReadUInt16LittleEndian(chunk[14..]);
                if (tag == TagExtensible && size >= 26)
                {
                    // The first two bytes of the sub-format are the tag that it would have without the extension.
                    tag = BinaryPrimitives.ReadUInt16LittleEndian(chunk[24..]);
                }
            }
            else if (id.SequenceEqual("data"u8))
            {
                return Decode(chunk, tag, channels, rate, bits, name);
            }

            rest = rest[(int)Math.Min(rest.Length, 8L + size + (size & 1))..];
        }

        throw Bad(name, "it has no data chunk");
    }

    private static WaveSound Decode(ReadOnlySpan<byte> data, int tag, int channels, int rate, int bits, string name)
    {
        if (channels < 1 || rate < 1)
        {
            throw Bad(name, "no format chunk with channels and a rate precedes its data");
        }

        var width = (tag, bits) switch
        {
            (TagPcm, 16) => 2,
            (TagPcm, 24) => 3,
            (TagFloat, 32) => 4,
            _ => throw Bad(name, $"it has samples of {bits} bits with format tag {tag}; accepted are 16- and 24-bit PCM and 32-bit float"),
        };
        var samples = new float[data.Length / (width * channels) * channels];
        for (var i = 0; i < samples.Length; i++)
        {
            var at = data.Slice(i * width, width);
            samples[i] = width switch
            {
                2 => BinaryPrimitives.ReadInt16LittleEndian(at) / 32768f,
                3 => (at[0] | (at[1] << 8) | (unchecked((sbyte)at[2]) << 16)) / 8388608f,
                _ => BinaryPrimitives.ReadSingleLittleEndian(at),
            };
        }

        return new WaveSound(rate, channels, samples);
    }

    private static InvalidDataException Bad(string name, string reason) => new($"\"{name}\" cannot be read as a WAV file: {reason}.");
}
