using System.Collections.Concurrent;
using System.Globalization;
using System.Runtime.Versioning;
using NAudio;
using NAudio.Midi;

namespace GrooveLab.Audio.Devices;

/// <summary>A MIDI output of Windows, by WinMM. Written from NAudio's documentation and never run, for lack of a Windows machine.</summary>
[SupportedOSPlatform("windows")]
internal sealed class WindowsMidiOut : IMidiOut
{
    private readonly MidiOut _port;
    private readonly string _name;

    private WindowsMidiOut(MidiOut port, string name) => (_port, _name) = (port, name);

    public static IMidiOut Open(MidiPort port)
    {
        try
        {
            return new WindowsMidiOut(new MidiOut(int.Parse(port.Path, CultureInfo.InvariantCulture)), port.Name);
        }
        catch (MmException failure)
        {
            throw new MidiPortException($"the MIDI port {port.Name} cannot be opened: {failure.Message}; close other programs that use it", isMissing: false);
        }
    }

    public int Write(ReadOnlySpan<byte> bytes)
    {
        // WinMM takes one whole message, with the status in the lowest byte.
        var done = 0;
        try
        {
            while (done < bytes.Length)
            {
                var length = Math.Min(MidiBytes.LengthOf(bytes[done]), bytes.Length - done);
                var packed = 0;
                for (var i = 0; i < length; i++)
                {
                    packed |= bytes[done + i] << (8 * i);
                }

                _port.Send(packed);
                done += length;
            }
        }
        catch (MmException failure)
        {
            throw new IOException($"the MIDI port {_name} is gone: {failure.Message}", failure);
        }

        return done;
    }

    public void Discard()
    {
        // WinMM keeps no queue of short messages.
    }

    public void Dispose() => _port.Dispose();
}

/// <summary>A MIDI input of Windows, by WinMM. Written from NAudio's documentation and never run, for lack of a Windows machine.</summary>
[SupportedOSPlatform("windows")]
internal sealed class WindowsMidiIn : IMidiIn
{
    private readonly MidiIn _port;
    private readonly BlockingCollection<byte> _bytes = new(4096);

    private WindowsMidiIn(MidiIn port)
    {
        _port = port;
        _port.MessageReceived += (_, received) => Put(received.RawMessage);
        _port.Start();
    }

    public static IMidiIn Open(MidiPort port)
    {
        try
        {
            return new WindowsMidiIn(new MidiIn(int.Parse(port.Path, CultureInfo.InvariantCulture)));
        }
        catch (MmException failure)
        {
            throw new MidiPortException($"the MIDI port {port.Name} cannot be opened: {failure.Message}; close other programs that use it", isMissing: false);
        }
    }

    public int Read(Span<byte> bytes, TimeSpan patience)
    {
        if (bytes.IsEmpty || !_bytes.TryTake(out var first, patience))
        {
            return 0;
        }

        bytes[0] = first;
        var count = 1;
        while (count < bytes.Length && _bytes.TryTake(out var next))
        {
            bytes[count++] = next;
        }

        return count;
    }

    public void Dispose()
    {
        _port.Dispose();
        _bytes.Dispose();
    }

    private void Put(int raw)
    {
        var length = MidiBytes.LengthOf((byte)raw);
        for (var i = 0; i < length; i++)
        {
            _ = _bytes.TryAdd((byte)(raw >> (8 * i)));
        }
    }
}
