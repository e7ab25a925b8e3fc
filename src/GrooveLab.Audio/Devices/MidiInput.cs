using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using System.Runtime.Versioning;
using GrooveLab.Audio.Failures;
using NAudio;
using NAudio.Midi;

namespace GrooveLab.Audio.Devices;

/// <summary>A received channel message and its time.</summary>
/// <param name="Status">The status byte without its channel: 0x80 to 0xE0.</param>
/// <param name="Channel">0 to 15.</param>
/// <param name="First">First data byte: key, controller or program.</param>
/// <param name="Second">Second data byte; 0 if there is none.</param>
/// <param name="Timestamp">A time of <see cref="Stopwatch.GetTimestamp"/>.</param>
public readonly record struct MidiMessage(int Status, int Channel, int First, int Second, long Timestamp);

/// <summary>
/// Turns a stream of MIDI bytes into channel messages (MIDI 1.0, running status included). It skips system messages and never
/// throws, whatever the bytes.
/// </summary>
public sealed class MidiParser
{
    private int _status;
    private int _first = -1;
    private bool _exclusive;

    /// <summary>Processes a byte; true if it completes a message.</summary>
    public bool TryTake(byte value, long timestamp, out MidiMessage message)
    {
        message = default;
        if (value >= 0xF8)
        {
            // Real-time messages may come anywhere, even inside other messages.
            return false;
        }

        if (value >= 0x80)
        {
            _exclusive = value == 0xF0;
            _status = value < 0xF0 ? value : 0;
            _first = -1;
            return false;
        }

        if (_exclusive || _status == 0)
        {
            return false;
        }

        var kind = _status & 0xF0;
        if (kind is 0xC0 or 0xD0)
        {
            message = new MidiMessage(kind, _status & 0x0F, value, 0, timestamp);
            return true;
        }

        if (_first < 0)
        {
            _first = value;
            return false;
        }

        message = new MidiMessage(kind, _status & 0x0F, _first, value, timestamp);
        _first = -1;
        return true;
    }
}

/// <summary>
/// Pedals and controllers: reads every MIDI input of the system on its own thread. A disconnected input is released.
/// </summary>
/// <remarks>
/// Linux: <c>/dev/snd/midiC*D*</c>. Windows: every WinMM input, by NAudio; written from its documentation, compiled, but never run, for
/// lack of a Windows machine. macOS: not supported yet.
/// </remarks>
public sealed class MidiInput : IDisposable
{
    private const int MostWaiting = 256;

    private readonly ConcurrentQueue<MidiMessage> _messages = new();
    private readonly List<IDisposable> _inputs = [];
    private readonly FailureLog _failures;
    private volatile bool _isLeaving;

    private MidiInput(FailureLog? failures) => _failures = failures ?? new FailureLog();

    /// <summary>Opens all inputs; none is not an error.</summary>
    /// <param name="failures">Records inputs that cannot be opened, disappear, or send too much; null to record nothing.</param>
    /// <param name="except">The device of an input that is read elsewhere; null for none.</param>
    public static MidiInput OpenAll(FailureLog? failures = null, string? except = null)
    {
        var input = new MidiInput(failures);
        const string Folder = "/dev/snd";
        if (OperatingSystem.IsWindows())
        {
            input.OpenWindows(except);
        }

        if (!OperatingSystem.IsLinux() || !Directory.Exists(Folder))
        {
            return input;
        }

        foreach (var path in Directory.EnumerateFiles(Folder, "midiC*D*").Order(StringComparer.Ordinal).Where(path => path != except))
        {
            try
            {
                input.Read(new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite, bufferSize: 0));
            }
            catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
            {
                // Another program is using it, or this user may not read it.
                input._failures.Add($"opening the MIDI input {path}", failure);
            }
        }

        return input;
    }

    /// <summary>Reads a stream of bytes; for tests.</summary>
    /// <param name="stream">The bytes.</param>
    /// <param name="failures">As for <see cref="OpenAll"/>.</param>
    public static MidiInput Of(Stream stream, FailureLog? failures = null)
    {
        var input = new MidiInput(failures);
        input.Read(stream);
        return input;
    }

    /// <summary>Takes the next message; for one thread.</summary>
    public bool TryTake(out MidiMessage message) => _messages.TryDequeue(out message);

    /// <inheritdoc/>
    public void Dispose()
    {
        _isLeaving = true;
        foreach (var input in _inputs)
        {
            try
            {
                input.Dispose();
            }
#pragma warning disable CA1031 // An input that cannot be closed must not keep the program from ending; the failure is recorded.
            catch (Exception failure)
#pragma warning restore CA1031
            {
                _failures.Add("closing a MIDI input", failure);
            }
        }
    }

    private void Read(Stream stream)
    {
        _inputs.Add(stream);
        new Thread(() => Run(stream)) { IsBackground = true, Name = "midi in" }.Start();
    }

    [SupportedOSPlatform("windows")]
    private void OpenWindows(string? except)
    {
        for (var device = 0; device < MidiIn.NumberOfDevices; device++)
        {
            if (except == device.ToString(CultureInfo.InvariantCulture))
            {
                continue;
            }

            try
            {
                var input = new MidiIn(device);
                input.MessageReceived += (_, received) => TakeRaw(received.RawMessage);
                input.Start();
                _inputs.Add(input);
            }
            catch (MmException failure)
            {
                // Another program is using it.
                _failures.Add($"opening MIDI input {device}", failure);
            }
        }
    }

    // WinMM packs a message into one number, with the status in the lowest byte.
    private void TakeRaw(int raw)
    {
        var parser = new MidiParser();
        var now = Stopwatch.GetTimestamp();
        for (var shift = 0; shift <= 16; shift += 8)
        {
            if (parser.TryTake((byte)((raw >> shift) & 0xFF), now, out var message))
            {
                Put(message);
                return;
            }
        }
    }

    private void Put(in MidiMessage message)
    {
        if (_messages.Count < MostWaiting)
        {
            _messages.Enqueue(message);
        }
        else
        {
            _failures.Add("taking MIDI messages", $"more than {MostWaiting} were waiting, so the rest was dropped");
        }
    }

    private void Run(Stream stream)
    {
        var parser = new MidiParser();
        var bytes = new byte[64];
        try
        {
            while (stream.Read(bytes) is var count && count > 0)
            {
                var now = Stopwatch.GetTimestamp();
                foreach (var value in bytes.AsSpan(0, count))
                {
                    if (parser.TryTake(value, now, out var message))
                    {
                        Put(message);
                    }
                }
            }
        }
#pragma warning disable CA1031 // An exception that escapes from this thread would end the process; an input that fails counts as unplugged.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            // At the end of the program the inputs are closed during a read.
            if (!_isLeaving)
            {
                _failures.Add("reading a MIDI input", failure);
            }
        }
    }
}
