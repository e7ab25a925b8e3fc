using GrooveLab.Audio.Devices;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>The states of a <see cref="MidiLine"/>.</summary>
internal enum MidiLineState
{
    /// <summary>The port takes messages.</summary>
    Open,

    /// <summary>The port has taken nothing for a while.</summary>
    Stuck,

    /// <summary>The port is gone.</summary>
    Gone,
}

/// <summary>
/// The bytes to one port: knows which keys sound at the other end and what its channels are set to, so that nothing hangs and a port that comes
/// back continues. It never splits a message and never waits.
/// </summary>
/// <remarks>Time comes from outside, in seconds. For one thread.</remarks>
internal sealed class MidiLine
{
    /// <summary>A port that takes nothing for so long is stuck.</summary>
    public const double StuckSeconds = 0.25;

    private const int Channels = 16;
    private const int Keys = 128;
    private const int Room = 4096;
    private const int VolumeController = 7;
    private const int PedalController = 64;
    private const int AllNotesOff = 123;
    private const int FirstModeController = 120;
    private const int Unknown = -1;
    private const byte NoteOffVelocity = 64;

    // Bytes and whether each begins a message.
    private readonly byte[] _bytes = new byte[Room];
    private readonly bool[] _begins = new bool[Room];
    private readonly bool[] _sounding = new bool[Channels * Keys];
    private readonly short[] _controls = new short[Channels * Keys];
    private readonly short[] _programs = new short[Channels];
    private readonly bool[] _used = new bool[Channels];
    private IMidiOut? _port;
    private int _count;
    private double _progressAt;
    private bool _runs;
    private bool _owesPlace;
    private bool _isStuck;

    public MidiLine(IMidiOut? port)
    {
        _port = port;
        Array.Fill(_controls, (short)Unknown);
        Array.Fill(_programs, (short)Unknown);
    }

    /// <summary>The state.</summary>
    public MidiLineState State => _port is null ? MidiLineState.Gone : _isStuck ? MidiLineState.Stuck : MidiLineState.Open;

    /// <summary>The number of keys that sound at the other end.</summary>
    public int Sounding { get; private set; }

    /// <summary>The bytes that wait for room.</summary>
    public int Waiting => _count;

    /// <summary>Messages that were not sent because the port was gone or stuck.</summary>
    public long NotSent { get; private set; }

    /// <summary>Why the port is gone; null if it is not.</summary>
    public Exception? Failure { get; private set; }

    /// <summary>Carries out an action.</summary>
    public void Do(in TimedMidi item, double now)
    {
        switch (item.Action)
        {
            case MidiAction.Message:
                Message(item.Status, item.First, item.Second, now);
                break;
            case MidiAction.Clock:
                Clock(item.Number, now);
                break;
            case MidiAction.Position:
                Send(now, MidiBytes.SongPosition, (byte)(item.Number & 0x7F), (byte)(item.Number >> 7));
                break;
            case MidiAction.Transport:
                _runs = item.Status != MidiBytes.Stop;
                _owesPlace &= State != MidiLineState.Open;
                Send(now, (byte)item.Status);
                break;
            default:
                ReleaseAll(now);
                break;
        }
    }

    /// <summary>Ends every note: the keys that sound, the sustain pedals, and last all notes of every channel that was used.</summary>
    public void ReleaseAll(double now)
    {
        for (var place = 0; place < _sounding.Length && Sounding > 0; place++)
        {
            if (_sounding[place])
            {
                Off(place / Keys, place % Keys, now);
            }
        }

        for (var channel = 0; channel < Channels; channel++)
        {
            if (_used[channel])
            {
                Send(now, (byte)(0xB0 | channel), PedalController, 0);
                Send(now, (byte)(0xB0 | channel), AllNotesOff, 0);
            }
        }
    }

    /// <summary>Stops the receiver and ends every note; for the end.</summary>
    public void Finish(double now)
    {
        if (_runs)
        {
            _runs = false;
            Send(now, MidiBytes.Stop);
        }

        ReleaseAll(now);
    }

    /// <summary>Passes waiting bytes on, as many as fit; call it now and then.</summary>
    public void Flush(double now)
    {
        Pass(now);
        if (_port is not null && _isStuck && _count == 0)
        {
            _isStuck = false;
            Restore(now);
            Pass(now);
        }
    }

    /// <summary>Goes on with a port that came back.</summary>
    public void Reopen(IMidiOut port, double now)
    {
        (_port, _count, _isStuck, Failure, _progressAt) = (port, 0, false, null, now);
        Restore(now);
        Flush(now);
    }

    /// <summary>Closes the port.</summary>
    public void Close()
    {
        if (_count > 0)
        {
            _port?.Discard();
        }

        _port?.Dispose();
        _port = null;
    }

    private void Pass(double now)
    {
        while (_port is not null && _count > 0)
        {
            int taken;
            try
            {
                taken = _port.Write(_bytes.AsSpan(0, _count));
            }
            catch (IOException failure)
            {
                Lose(failure);
                return;
            }

            if (taken > 0)
            {
                Remove(taken);
                _progressAt = now;
                continue;
            }

            if (!_isStuck && now - _progressAt > StuckSeconds)
            {
                _isStuck = true;
                Drop();
            }

            return;
        }
    }

    private void Message(int status, int first, int second, double now)
    {
        var channel = status & 0x0F;
        switch (status & 0xF0)
        {
            case 0x90:
                // A muted part is silent at the other end too, whatever that makes of channel volume.
                if (_controls[(channel * Keys) + VolumeController] == 0)
                {
                    break;
                }

                _used[channel] = true;
                if (Send(now, (byte)status, (byte)first, (byte)second))
                {
                    Mark(channel, first, sounds: true);
                }

                break;
            case 0x80:
                if (_sounding[(channel * Keys) + first])
                {
                    Off(channel, first, now);
                }

                break;
            case 0xB0:
                if (first < FirstModeController)
                {
                    _controls[(channel * Keys) + first] = (short)second;
                }
                else if (!_used[channel])
                {
                    break;
                }

                Send(now, (byte)status, (byte)first, (byte)second);
                if (first == VolumeController && second == 0)
                {
                    ReleaseChannel(channel, now);
                }

                break;
            case 0xC0:
                _programs[channel] = (short)first;
                Send(now, (byte)status, (byte)first);
                break;
            case 0xD0:
                Send(now, (byte)status, (byte)first);
                break;
            default:
                Send(now, (byte)status, (byte)first, (byte)second);
                break;
        }
    }

    private void ReleaseChannel(int channel, double now)
    {
        for (var key = 0; key < Keys; key++)
        {
            if (_sounding[(channel * Keys) + key])
            {
                Off(channel, key, now);
            }
        }
    }

    // A receiver that missed start or continue gets its place with the next whole sixteenth, a clock ahead.
    private void Clock(long number, double now)
    {
        Send(now, MidiBytes.Clock);
        var next = number + 1;
        if (!_owesPlace || !_runs || State != MidiLineState.Open || next < 0 || next % MidiBytes.ClocksInSixteenth != 0)
        {
            return;
        }

        _owesPlace = false;
        var sixteenth = next / MidiBytes.ClocksInSixteenth;
        if (sixteenth <= MidiBytes.LastSixteenth)
        {
            Send(now, MidiBytes.SongPosition, (byte)(sixteenth & 0x7F), (byte)(sixteenth >> 7));
        }

        Send(now, MidiBytes.Continue);
    }

    private void Off(int channel, int key, double now)
    {
        // If it cannot be sent now, the key stays in the list, and is released when the port takes messages again.
        if (Send(now, (byte)(0x80 | channel), (byte)key, NoteOffVelocity))
        {
            Mark(channel, key, sounds: false);
        }
    }

    private void Mark(int channel, int key, bool sounds)
    {
        ref var place = ref _sounding[(channel * Keys) + key];
        Sounding += (sounds ? 1 : 0) - (place ? 1 : 0);
        place = sounds;
    }

    private bool Send(double now, params ReadOnlySpan<byte> message)
    {
        if (State != MidiLineState.Open)
        {
            NotSent++;
            return false;
        }

        if (_count + message.Length > Room)
        {
            _isStuck = true;
            Drop();
            NotSent++;
            return false;
        }

        if (_count == 0)
        {
            _progressAt = now;
        }

        message.CopyTo(_bytes.AsSpan(_count));
        for (var i = 0; i < message.Length; i++)
        {
            _begins[_count + i] = i == 0;
        }

        _count += message.Length;
        return true;
    }

    // Late notes are worse than none. The rest of a message that was begun stays, so that the next one is understood.
    private void Drop()
    {
        var keep = 0;
        while (keep < _count && !_begins[keep])
        {
            keep++;
        }

        for (var at = keep; at < _count; at++)
        {
            if (!_begins[at])
            {
                continue;
            }

            NotSent++;
            if ((_bytes[at] & 0xF0) == 0x80)
            {
                Mark(_bytes[at] & 0x0F, _bytes[at + 1], sounds: true);
            }
        }

        _count = keep;
        _owesPlace = true;
        if (_count == 0)
        {
            // Something must wait, so that the port shows that it takes bytes again; this message would be sent then in any case.
            ReadOnlySpan<byte> probe = [0xB0, AllNotesOff, 0];
            probe.CopyTo(_bytes);
            for (_count = 0; _count < probe.Length; _count++)
            {
                _begins[_count] = _count == 0;
            }
        }
    }

    private void Remove(int taken)
    {
        _count -= taken;
        Array.Copy(_bytes, taken, _bytes, 0, _count);
        Array.Copy(_begins, taken, _begins, 0, _count);
    }

    private void Lose(IOException failure)
    {
        // A message that was cut is lost with the port: what comes back begins anew.
        Failure = failure;
        for (var at = 0; at < _count; at++)
        {
            if (_begins[at] && (_bytes[at] & 0xF0) == 0x80)
            {
                Mark(_bytes[at] & 0x0F, _bytes[at + 1], sounds: true);
            }
        }

        _count = 0;
        _owesPlace = true;
        _isStuck = false;
        _port!.Dispose();
        _port = null;
    }

    // The other end may be the same device, with notes that sound, or a fresh one.
    private void Restore(double now)
    {
        _owesPlace = true;
        ReleaseAll(now);
        for (var channel = 0; channel < Channels; channel++)
        {
            if (_programs[channel] != Unknown)
            {
                Send(now, (byte)(0xC0 | channel), (byte)_programs[channel]);
            }

            for (var controller = 0; controller < FirstModeController; controller++)
            {
                if (_controls[(channel * Keys) + controller] is var value && value != Unknown)
                {
                    Send(now, (byte)(0xB0 | channel), (byte)controller, (byte)value);
                }
            }
        }
    }
}
