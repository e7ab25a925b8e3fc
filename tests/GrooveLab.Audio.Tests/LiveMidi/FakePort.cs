using GrooveLab.Audio.Devices;

namespace GrooveLab.Audio.Tests.LiveMidi;

/// <summary>A port that keeps what it gets, takes as much as a test allows, and can go away.</summary>
internal sealed class FakePort : IMidiOut
{
    public List<byte> Bytes { get; } = [];

    public int Room { get; set; } = int.MaxValue;

    public bool IsGone { get; set; }

    public bool IsClosed { get; private set; }

    public int Write(ReadOnlySpan<byte> bytes)
    {
        if (IsGone)
        {
            throw new IOException("the MIDI port is gone");
        }

        var count = Math.Min(Room, bytes.Length);
        Bytes.AddRange(bytes[..count]);
        Room -= Room == int.MaxValue ? 0 : count;
        return count;
    }

    public void Discard()
    {
    }

    public void Dispose() => IsClosed = true;

    public byte[] Take()
    {
        byte[] taken = [.. Bytes];
        Bytes.Clear();
        return taken;
    }
}
