using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback.Engine;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>What to do at a frame.</summary>
internal enum MidiAction
{
    /// <summary>Send a channel message.</summary>
    Message,

    /// <summary>Send a timing clock.</summary>
    Clock,

    /// <summary>Send start, continue or stop.</summary>
    Transport,

    /// <summary>Send a song position pointer.</summary>
    Position,

    /// <summary>Release every key.</summary>
    Release,
}

/// <summary>An action and its frame.</summary>
/// <param name="Frame">The frame.</param>
/// <param name="Action">What to do.</param>
/// <param name="Status">The status byte of a message, or the byte of start, continue or stop.</param>
/// <param name="First">The first data byte of a message.</param>
/// <param name="Second">The second data byte of a message.</param>
/// <param name="Number">The number of a clock in the song, or the sixteenth of a position.</param>
internal readonly record struct TimedMidi(long Frame, MidiAction Action, int Status, int First, int Second, long Number);

/// <summary>
/// Puts the events of a tap in the order in which they are sent, with start, stop, continue and song position pointer where the place in the song
/// begins, jumps or ends.
/// </summary>
/// <remarks>
/// <para>
/// MIDI 1.0: a receiver goes on with the first clock after start or continue, so these come before the clock of their place; at least a
/// millisecond before it where the tempo leaves one, so that the receiver can prepare (from memory). A pointer names whole sixteenths; where
/// music begins between two of them, continue waits for the next one.
/// </para>
/// <para>Pure, and for one thread: time comes as frames.</para>
/// </remarks>
/// <param name="leadFrames">How long before its clock start or continue is sent, in frames.</param>
internal sealed class MidiSchedule(int leadFrames)
{
    private readonly List<TimedMidi> _waiting = [];
    private long _clockFrame = long.MinValue;
    private long _expected;
    private int _head;

    /// <summary>Whether the receiver runs after all that was added.</summary>
    public bool Runs { get; private set; }

    /// <summary>The number of waiting actions.</summary>
    public int Count => _waiting.Count - _head;

    /// <summary>Adds what a tap saw; the frames of a tap never decrease.</summary>
    public void Add(in TappedEvent item)
    {
        switch (item.Kind)
        {
            case TappedKind.Message:
                Put(new TimedMidi(item.Frame, MidiAction.Message, item.Status, item.First, item.Second, 0));
                break;
            case TappedKind.Clock:
                AddClock(item.Frame, item.Clock);
                break;
            case TappedKind.Gap:
                Put(new TimedMidi(item.Frame, MidiAction.Release, 0, 0, 0, 0));
                break;
            default:
                if (Runs)
                {
                    Transport(item.Frame, MidiBytes.Stop);
                    Runs = false;
                }

                Put(new TimedMidi(item.Frame, MidiAction.Release, 0, 0, 0, 0));
                break;
        }
    }

    /// <summary>The next action; false if none waits.</summary>
    public bool TryPeek(out TimedMidi next)
    {
        next = _head < _waiting.Count ? _waiting[_head] : default;
        return _head < _waiting.Count;
    }

    /// <summary>Removes the next action.</summary>
    public void Take()
    {
        if (++_head == _waiting.Count)
        {
            _waiting.Clear();
            _head = 0;
        }
        else if (_head == 1024)
        {
            _waiting.RemoveRange(0, _head);
            _head = 0;
        }
    }

    private void AddClock(long frame, long number)
    {
        if (number < 0)
        {
            // The lead-in is before the song: the receiver learns the tempo.
            if (Runs)
            {
                Transport(Before(frame), MidiBytes.Stop);
                Runs = false;
            }
        }
        else if (!Runs || number != _expected)
        {
            Place(Before(frame), number);
        }

        Put(new TimedMidi(frame, MidiAction.Clock, 0, 0, 0, number));
        _clockFrame = frame;
        _expected = number + 1;
    }

    private void Place(long frame, long number)
    {
        if (Runs)
        {
            Transport(frame, MidiBytes.Stop);
            Runs = false;
        }

        if (number == 0)
        {
            Transport(frame, MidiBytes.Start);
            Runs = true;
        }
        else if (number % MidiBytes.ClocksInSixteenth == 0)
        {
            // Beyond the last place that a pointer can name, the receiver goes on from where it is.
            var sixteenth = number / MidiBytes.ClocksInSixteenth;
            if (sixteenth <= MidiBytes.LastSixteenth)
            {
                Put(new TimedMidi(frame, MidiAction.Position, MidiBytes.SongPosition, 0, 0, sixteenth));
            }

            Transport(frame, MidiBytes.Continue);
            Runs = true;
        }
    }

    private long Before(long frame) => Math.Max(_clockFrame, frame - leadFrames);

    private void Transport(long frame, byte status) => Put(new TimedMidi(frame, MidiAction.Transport, status, 0, 0, 0));

    // After everything of the same frame, so that the order of arrival stays.
    private void Put(in TimedMidi item)
    {
        var at = _waiting.Count;
        while (at > _head && _waiting[at - 1].Frame > item.Frame)
        {
            at--;
        }

        _waiting.Insert(at, item);
    }
}
