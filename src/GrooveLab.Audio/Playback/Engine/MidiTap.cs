namespace GrooveLab.Audio.Playback.Engine;

/// <summary>The kinds of <see cref="TappedEvent"/>.</summary>
public enum TappedKind
{
    /// <summary>A channel message.</summary>
    Message,

    /// <summary>A place of the song on the grid of the MIDI clock, 24 to a quarter.</summary>
    Clock,

    /// <summary>Events before this one were lost, because nobody took them.</summary>
    Gap,

    /// <summary>The music ended or was stopped.</summary>
    Ended,
}

/// <summary>What a <see cref="MidiTap"/> saw, and the frame on which it took effect.</summary>
/// <param name="Frame">The frame of the engine, from 0.</param>
/// <param name="Kind">What it is.</param>
/// <param name="Status">For a message: the status byte with its channel.</param>
/// <param name="First">For a message: the first data byte.</param>
/// <param name="Second">For a message: the second data byte; 0 if it has none.</param>
/// <param name="Clock">For a clock: its number from the first bar line of the song; negative in the lead-in.</param>
public readonly record struct TappedEvent(long Frame, TappedKind Kind, int Status, int First, int Second, long Clock);

/// <summary>
/// Passes what an engine plays to one other thread, as MIDI messages with their frames. The engine writes at the moment when an event takes
/// effect, so cut notes, jumps, mutes and changes of tempo are included as they are heard.
/// </summary>
/// <remarks>
/// It has the 16 channels of one MIDI port; messages to higher channels are left out. The writing side never waits: if nobody takes the events,
/// newer ones are lost and counted, and a <see cref="TappedKind.Gap"/> tells the reader.
/// </remarks>
public sealed class MidiTap
{
    /// <summary>The channels of a port.</summary>
    public const int Channels = 16;

    private readonly Ring<TappedEvent> _ring;
    private long _lost;
    private bool _owesGap;

    /// <summary>Creates a tap.</summary>
    /// <param name="capacity">The most events that may wait.</param>
    public MidiTap(int capacity = 1 << 13) => _ring = new Ring<TappedEvent>(capacity);

    /// <summary>The number of lost events. From any thread.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Audio thread: the frame of the next events.</summary>
    internal long Frame { get; set; }

    /// <summary>Takes the next event; for one thread.</summary>
    public bool TryTake(out TappedEvent item) => _ring.TryRead(out item);

    /// <summary>Audio thread: a message to a channel.</summary>
    internal void Message(int status, int channel, int first, int second)
    {
        if ((uint)channel < Channels)
        {
            Write(new TappedEvent(Frame, TappedKind.Message, status | channel, first, second, 0));
        }
    }

    /// <summary>Audio thread: a place on the grid of the clock.</summary>
    internal void Clock(long number) => Write(new TappedEvent(Frame, TappedKind.Clock, 0, 0, 0, number));

    /// <summary>Audio thread: the music is over.</summary>
    internal void End() => Write(new TappedEvent(Frame, TappedKind.Ended, 0, 0, 0, 0));

    private void Write(in TappedEvent item)
    {
        if (_owesGap)
        {
            if (!_ring.TryWrite(new TappedEvent(item.Frame, TappedKind.Gap, 0, 0, 0, 0)))
            {
                Interlocked.Increment(ref _lost);
                return;
            }

            _owesGap = false;
        }

        if (!_ring.TryWrite(item))
        {
            _owesGap = true;
            Interlocked.Increment(ref _lost);
        }
    }
}
