using GrooveLab.Audio.Vorbis;
using Xunit;

namespace GrooveLab.Audio.Tests.Vorbis;

public class OggPacketsTests
{
    [Fact]
    public void Read_PacketOverPages_IsJoined()
    {
        var packet = Bytes(700);
        byte[] stream = [.. OggWriter.Page(packet[..510], [255, 255]), .. OggWriter.Page(packet[510..], [190], position: 99, isContinued: true)];

        var packets = OggPackets.Read(stream);

        Assert.Equal(1, packets.Count);
        Assert.Equal(packet, packets[0].ToArray());
        Assert.Equal(99, packets.LastPosition);
    }

    [Fact]
    public void Read_PacketOfAFullSegment_EndsWithAnEmptyOne()
    {
        var packets = OggPackets.Read(OggWriter.Page([.. Bytes(255), 1, 2], [255, 0, 2]));

        Assert.Equal([255, 2], Lengths(packets));
    }

    [Fact]
    public void Read_PageOfAnotherStream_IsSkipped()
    {
        byte[] stream = [.. OggWriter.Page([1, 2], [2]), .. OggWriter.Page([9, 9, 9], [3], position: 5, serial: 8), .. OggWriter.Page([3], [1])];

        var packets = OggPackets.Read(stream);

        Assert.Equal([2, 1], Lengths(packets));
        Assert.Equal(-1, packets.LastPosition);
    }

    [Fact]
    public void Read_PageThatIsLost_LosesOnlyItsPackets()
    {
        // The first page's second packet goes on elsewhere; the second page begins with the rest of a packet that began elsewhere.
        byte[] stream = [.. OggWriter.Page([1, .. Bytes(255)], [1, 255]), .. OggWriter.Page([2, 2], [2])];
        byte[] other = [.. OggWriter.Page([1], [1]), .. OggWriter.Page([7, 7, 7, 2, 2], [3, 2], isContinued: true)];

        Assert.Equal([1, 2], Lengths(OggPackets.Read(stream)));
        Assert.Equal([1, 2], Lengths(OggPackets.Read(other)));
    }

    [Fact]
    public void Read_StreamCutAnywhere_HasThePacketsBeforeTheCut()
    {
        var stream = OggWriter.Stream(Bytes(40), Bytes(300), Bytes(1));
        var counts = Enumerable.Range(0, stream.Length + 1).Select(length => OggPackets.Read(stream.AsSpan(0, length)).Count).ToArray();

        Assert.Equal(counts.Order(), counts);
        Assert.Equal([0, 1, 2, 3], counts.Distinct());
        Assert.Equal(2, counts[^2]);
    }

    [Fact]
    public void Read_OtherDataBehind_AreIgnored()
    {
        byte[] stream = [.. OggWriter.Stream(Bytes(3)), .. Bytes(500)];

        Assert.Equal([3], Lengths(OggPackets.Read(stream)));
    }

    private static byte[] Bytes(int count) => [.. Enumerable.Range(0, count).Select(i => (byte)(i % 256))];

    private static int[] Lengths(OggPackets packets) => [.. Enumerable.Range(0, packets.Count).Select(i => packets[i].Length)];
}
