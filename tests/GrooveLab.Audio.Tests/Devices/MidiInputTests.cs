using CsCheck;
using GrooveLab.Audio.Devices;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class MidiInputTests
{
    private static List<(int Status, int Channel, int First, int Second)> Parse(params byte[] bytes)
    {
        var parser = new MidiParser();
        var found = new List<(int Status, int Channel, int First, int Second)>();
        foreach (var value in bytes)
        {
            if (parser.TryTake(value, 0, out var message))
            {
                found.Add((message.Status, message.Channel, message.First, message.Second));
            }
        }

        return found;
    }

    // MIDI 1.0: status bytes have the top bit set, running status repeats them, real-time bytes may come anywhere, exclusive ends at F7.
    [Fact]
    public void TryTake_RunningStatusRealTimeAndExclusive_AreRead() => Assert.Equal(
        [(0xB0, 2, 64, 127), (0xB0, 2, 64, 0), (0x90, 0, 60, 100), (0xC0, 1, 5, 0), (0xC0, 1, 6, 0)],
        Parse(0xB2, 64, 127, 64, 0xF8, 0, 0xF0, 1, 2, 3, 0xF7, 9, 9, 0x90, 60, 0xFE, 100, 0xC1, 5, 6));

    [Fact]
    public void TryTake_AnyBytes_NeverThrowAndStayInRange() => Gen.Byte.Array[0, 200].Sample(bytes =>
        Parse(bytes).TrueForAll(message => message.Status is >= 0x80 and <= 0xE0 && message.First < 128 && message.Second < 128));

    [Fact]
    public async Task Of_AStreamOfBytes_HandsItsMessagesOver()
    {
        using var input = MidiInput.Of(new MemoryStream([0xB0, 64, 127, 0x90, 36, 1]));
        var found = new List<MidiMessage>();
        while (found.Count < 2)
        {
            TestContext.Current.CancellationToken.ThrowIfCancellationRequested();
            if (input.TryTake(out var message))
            {
                found.Add(message);
            }

            await Task.Yield();
        }

        Assert.Equal([(0xB0, 64), (0x90, 36)], found.Select(message => (message.Status, message.First)));
    }
}
