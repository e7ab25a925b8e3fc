using System.Buffers.Binary;
using GrooveLab.Audio.Vorbis;
using Xunit;

namespace GrooveLab.Audio.Tests.Vorbis;

public class VorbisDecoderTests
{
    private const int MostPoints = 1 << 22;

    // Tones and noise, loud and soft, with an attack in the middle: long and short blocks, and channels that differ.
    private static readonly string[] Sound =
    [
        "synth", "0.7", "sine", "440", "pinknoise", "remix", "1,2v0.3", "1v0.5,2v-0.3", "vol", "0.5", "pad", "0.25",
    ];

    [Theory]
    [InlineData(8000, 1, 0)]
    [InlineData(22050, 1, 3)]
    [InlineData(44100, 1, -1)]
    [InlineData(44100, 1, 10)]
    [InlineData(48000, 1, 6)]
    [InlineData(44100, 2, -1)] // coupled
    [InlineData(44100, 2, 4)]
    [InlineData(32000, 2, 10)]
    public void Decode_EncodedSound_IsWhatTheReferenceDecodes(int rate, int channels, int quality)
    {
        var stream = VorbisStreams.Encode(rate, channels, quality, channels == 2 ? Sound : [.. Sound, "remix", "1"]);
        var expected = VorbisStreams.Decode(stream);

        var points = Decode(stream);

        Assert.Equal(expected.Length, points.Length);
        Assert.All(points.Zip(expected), pair => Assert.InRange(pair.First - pair.Second, -1, 1));
        Assert.Contains(points, point => point > 3000);
    }

    [Fact]
    public void Decode_EveryStreamOfARealBank_HasThePointsOfItsLastPosition()
    {
        var streams = VorbisStreams.OfARealBank();

        Assert.Equal(1037, streams.Count);
        Assert.All(streams, stream => Assert.Equal(OggPackets.Read(stream.Data).LastPosition, Decode(stream.Data).Length));
    }

    // The last position of these cuts off the whole last block; a decoder that takes the cut from that block alone never ends.
    [Theory]
    [InlineData("Tuba D#4")]
    [InlineData("SB2 C4")]
    public void Decode_LastBlockCutOff_IsWhatTheReferenceDecodes(string name)
    {
        var stream = VorbisStreams.OfARealBank().Single(stream => stream.Name == name).Data;
        var expected = VorbisStreams.Decode(stream);

        var points = Decode(stream);

        Assert.Equal(expected.Length, points.Length);
        Assert.All(points.Zip(expected), pair => Assert.InRange(pair.First - pair.Second, -1, 1));
    }

    [Fact]
    public void Decode_PositionLaterThanTheSound_GivesAllThatThereIs()
    {
        var stream = VorbisStreams.Encode(44100, 1, 3, "synth", "0.2", "sine", "440");
        var length = Decode(stream).Length;
        var last = stream.AsSpan().LastIndexOf("OggS"u8);

        BinaryPrimitives.WriteInt64LittleEndian(stream.AsSpan(last + 6), long.MaxValue);

        Assert.InRange(Decode(stream).Length, length, length + 2048);
    }

    [Fact]
    public void Decode_MorePointsThanAllowed_IsRefused()
    {
        var stream = VorbisStreams.Encode(44100, 1, 3, "synth", "0.2", "sine", "440");

        Assert.Contains(
            "8820 points, more than 8819",
            Assert.Throws<InvalidDataException>(() => VorbisDecoder.DecodeFirstChannel(stream, 8819, count => new short[count])).Message,
            StringComparison.Ordinal);
    }

    // 2^24 entries in order of length: forty bits of header.
    [Theory]
    [InlineData(1, 0xffffff, 1, "more than")]
    [InlineData(65535, 1000, 0, "is cut")]
    [InlineData(1, 1000, 1, "invalid codeword lengths")]
    public void Decode_CodebookThatClaimsMoreThanThereIs_IsRefusedAtOnce(int dimensions, int entries, int isOrdered, string reason)
    {
        var setup = new BitWriter().Write("\u0005vorbis").Write(0, 8)
            .Write(0x564342, 24).Write(dimensions, 16).Write(entries, 24).Write(isOrdered, 1).Write(0, 5);
        var stream = OggWriter.Stream(Identification(1), [3], setup.ToArray());
        var before = GC.GetAllocatedBytesForCurrentThread();

        var problem = Assert.Throws<InvalidDataException>(() => Decode(stream));

        Assert.Contains(reason, problem.Message, StringComparison.Ordinal);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 1 << 20);
    }

    // 1,000 entries of 65,535 values each would take 262 MB.
    [Fact]
    public void Decode_CodebookOfGigabytes_IsRefusedAtOnce()
    {
        var setup = new BitWriter().Write("\u0005vorbis").Write(0, 8).Write(0x564342, 24).Write(65535, 16).Write(1000, 24).Write(1, 1).Write(9, 5)
            .Write(1000, 10).Write(1, 4).Write(0, 32).Write(0, 32).Write(0, 5);
        var stream = OggWriter.Stream(Identification(1), [3], setup.ToArray());

        Assert.Contains("values", Assert.Throws<InvalidDataException>(() => Decode(stream)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Decode_NoHeaders_IsRefused()
    {
        Assert.Contains("headers are missing", Assert.Throws<InvalidDataException>(() => Decode(new byte[500])).Message, StringComparison.Ordinal);
        Assert.Contains(
            "identification", Assert.Throws<InvalidDataException>(() => Decode(OggWriter.Stream([1], [2], [3]))).Message, StringComparison.Ordinal);
        Assert.Contains(
            "9 channels", Assert.Throws<InvalidDataException>(() => Decode(OggWriter.Stream(Identification(9), [3], Setup()))).Message, StringComparison.Ordinal);
        Assert.Contains(
            "a codebook is cut", Assert.Throws<InvalidDataException>(() => Decode(OggWriter.Stream(Identification(1), [3], Setup()))).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Decode_FloorOfTypeZero_IsRefusedWithItsReason()
    {
        var setup = new BitWriter().Write("\u0005vorbis").Write(0, 8)
            .Write(0x564342, 24).Write(1, 16).Write(1, 24).Write(0, 1).Write(0, 1).Write(0, 5).Write(0, 4) // one book of one entry
            .Write(0, 6).Write(0, 16) // one time transform
            .Write(0, 6).Write(0, 16); // one floor
        var stream = OggWriter.Stream(Identification(1), [3], setup.ToArray());

        Assert.Contains("floor type 0", Assert.Throws<InvalidDataException>(() => Decode(stream)).Message, StringComparison.Ordinal);
    }

    private static byte[] Identification(int channels) =>
        new BitWriter().Write("\u0001vorbis").Write(0, 32).Write(channels, 8).Write(44100, 32).Write(0, 32).Write(0, 32).Write(0, 32)
            .Write(8, 4).Write(11, 4).Write(1, 1).ToArray();

    private static byte[] Setup() => new BitWriter().Write("\u0005vorbis").Write(0, 8).Write(0x564342, 24).ToArray();

    private static short[] Decode(byte[] stream)
    {
        var (points, count) = VorbisDecoder.DecodeFirstChannel(stream, MostPoints, count => new short[count]);
        return points[..count];
    }
}
