using GrooveLab.Music.Bars;

namespace GrooveLab.Exchange.Midi;

/// <summary>The timeline of a file: the events of all tracks in order, and its tempi as exact time. The time of each tick is computed
/// from the start in whole numbers, never summed from rounded steps.</summary>
public sealed class MidiTimeline
{
    /// <summary>Microseconds per quarter before the first tempo: 120 quarters per minute.</summary>
    public const int StandardTempo = 500_000;

    /// <summary>The number of channels of one port.</summary>
    public const int ChannelsOfPort = 16;

    /// <summary>The number of distinct ports (meta event 21); higher ones count as the last.</summary>
    public const int Ports = 4;

    /// <summary>The latest frame of any tick, whatever length a file claims.</summary>
    public const long LastFrame = 1L << 53;

    // In fractions of a second: _perSecond of them make a second.
    private readonly TempoStretches _stretches = new();
    private readonly (int Track, int Index)[] _order;
    private readonly long _perSecond;

    /// <summary>Creates the timeline of a file.</summary>
    public MidiTimeline(MidiFile file)
    {
        File = file;
        _order = Order(file);
        foreach (var track in file.Tracks)
        {
            EndTick = Math.Max(EndTick, track.EndTick);
        }

        if (file.Division.IsSmpte)
        {
            // A tick lasts denominator/numerator of a second, whatever the tempo.
            var rate = file.Division.TicksPerSecond;
            _perSecond = rate.Numerator;
            _stretches.Change(0, (int)rate.Denominator);
            return;
        }

        _perSecond = 1_000_000L * file.Division.Ticks;
        TakeTempi();
    }

    /// <summary>The file.</summary>
    public MidiFile File { get; }

    /// <summary>The tick at which its longest track ends.</summary>
    public long EndTick { get; }

    /// <summary>The tempi: the start tick, microseconds per quarter. Empty when ticks divide a second.</summary>
    public IReadOnlyList<(long Tick, int MicrosecondsPerQuarter)> Tempi =>
        File.Division.IsSmpte ? [] : [.. _stretches.All];

    /// <summary>All events in order of their ticks; on one tick in the order of tracks, and within a track in file order.</summary>
    public IEnumerable<(int Track, MidiEvent Event)> Events
    {
        get
        {
            foreach (var (track, index) in _order)
            {
                yield return (track, File.Tracks[track].All[index]);
            }
        }
    }

    /// <summary>The sample frame nearest to a tick; halves round up to the later one. At most <see cref="LastFrame"/>.</summary>
    /// <param name="tick">Ticks from the start.</param>
    /// <param name="sampleRate">Frames per second (Hz).</param>
    public long FrameAt(long tick, int sampleRate)
    {
        var time = _stretches.TimeAt(tick);
        var rest = time % _perSecond;
        var seconds = (time - rest) / _perSecond;
        if (seconds > LastFrame / sampleRate)
        {
            return LastFrame;
        }

        return Math.Min(((long)seconds * sampleRate) + (((2 * (long)rest * sampleRate) + _perSecond) / (2 * _perSecond)), LastFrame);
    }

    /// <summary>The time of a tick in seconds, for display and statistics.</summary>
    public double SecondsAt(long tick) => (double)_stretches.TimeAt(tick) / _perSecond;

    /// <summary>The channel events with their frames: notes, controllers, programs, pressure, pitch wheel, resets, master volume and
    /// percussion channels. Excludes other system exclusive messages and text.</summary>
    /// <param name="sampleRate">Frames per second (Hz).</param>
    public TimedChannelEvent[] ChannelEvents(int sampleRate)
    {
        var ports = new int[File.Tracks.Count];
        var events = new List<TimedChannelEvent>(_order.Length);
        var open = new OpenMessage();
        DrumBanks? banks = null;
        foreach (var (track, item) in Events)
        {
            if (item is { IsMeta: true, Data1: MetaType.Port, Content.Length: > 0 })
            {
                ports[track] = Math.Min((int)item.Content.Span[0], Ports - 1);
            }
            else if (item.IsMeta)
            {
                continue;
            }
            else if (!item.IsChannelMessage)
            {
                if (open.Completes(item) && SysExMessages.ToEvent(open.Message, ports[track] * ChannelsOfPort) is { } told)
                {
                    if (told.Kind == ChannelEventKind.Reset)
                    {
                        banks = SysExMessages.StartsDrumBanks(open.Message) ? new DrumBanks() : null;
                    }

                    events.Add(new TimedChannelEvent(FrameAt(item.Tick, sampleRate), told));
                }
            }
            else if (Message(item, (ports[track] * ChannelsOfPort) + item.Channel) is { } message)
            {
                var frame = FrameAt(item.Tick, sampleRate);
                if (banks?.Change(message) is { } change)
                {
                    events.Add(new TimedChannelEvent(frame, change));
                }

                events.Add(new TimedChannelEvent(frame, message));
            }
        }

        return [.. events];
    }

    private static ChannelEvent? Message(MidiEvent item, int channel) => item.Kind switch
    {
        0x80 => new ChannelEvent(ChannelEventKind.NoteOff, channel, item.Data1, 0),
        0x90 when item.Data2 == 0 => new ChannelEvent(ChannelEventKind.NoteOff, channel, item.Data1, 0),
        0x90 => new ChannelEvent(ChannelEventKind.NoteOn, channel, item.Data1, item.Data2),
        0xA0 => new ChannelEvent(ChannelEventKind.KeyPressure, channel, item.Data1, item.Data2),
        0xB0 => new ChannelEvent(ChannelEventKind.Control, channel, item.Data1, item.Data2),
        0xC0 => new ChannelEvent(ChannelEventKind.Program, channel, item.Data1, 0),
        0xD0 => new ChannelEvent(ChannelEventKind.Pressure, channel, 0, item.Data1),
        0xE0 => new ChannelEvent(ChannelEventKind.PitchWheel, channel, 0, (item.Data2 << 7) | item.Data1),
        _ => null,
    };

    private static (int Track, int Index)[] Order(MidiFile file)
    {
        var length = 0;
        foreach (var track in file.Tracks)
        {
            length += track.All.Length;
        }

        var order = new (int Track, int Index)[length];
        var ticks = new long[order.Length];
        var count = 0;
        for (var track = 0; track < file.Tracks.Count; track++)
        {
            var events = file.Tracks[track].All;
            for (var index = 0; index < events.Length; index++)
            {
                ticks[count] = events[index].Tick;
                order[count++] = (track, index);
            }
        }

        // The indices break ties, so that the order is always the same.
        if (file.Tracks.Count > 1)
        {
            var keys = new (long Tick, int Place)[count];
            for (var i = 0; i < count; i++)
            {
                keys[i] = (ticks[i], i);
            }

            Array.Sort(keys, order);
        }

        return order;
    }

    private void TakeTempi()
    {
        _stretches.Change(0, StandardTempo);
        foreach (var (_, item) in Events)
        {
            if (item is { IsMeta: true, Data1: MetaType.Tempo, Content.Length: >= 3 })
            {
                var bytes = item.Content.Span;
                var tempo = (bytes[0] << 16) | (bytes[1] << 8) | bytes[2];
                if (tempo > 0)
                {
                    _stretches.Change(item.Tick, tempo);
                }
            }
        }
    }

    // Bank 127 (controller 0) is that of the drums, and counts from the next program change on. Another bank gives a channel back that bank 127
    // had turned into drums; channel 10 stays drums, because many files select bank 0 there and mean drums.
    private sealed class DrumBanks
    {
        private const int Drums = 127;

        private readonly int[] _banks = new int[Ports * ChannelsOfPort];
        private readonly bool[] _isTurned = new bool[Ports * ChannelsOfPort];

        public ChannelEvent? Change(ChannelEvent message)
        {
            if (message is { Kind: ChannelEventKind.Control, Number: 0 })
            {
                _banks[message.Channel] = message.Value;
            }
            else if (message.Kind == ChannelEventKind.Program && _banks[message.Channel] == Drums != _isTurned[message.Channel])
            {
                var isDrums = _isTurned[message.Channel] ^= true;
                return message.Channel % ChannelsOfPort == PartChannels.PercussionChannel ? null
                    : new ChannelEvent(ChannelEventKind.Percussion, message.Channel, 0, isDrums ? 1 : 0);
            }

            return null;
        }
    }

    // A message may come in several packets, the last ending with F7. Only short ones have a meaning here.
    private sealed class OpenMessage
    {
        private const int Longest = 64;

        private readonly List<byte> _bytes = [];
        private bool _isOpen;

        public ReadOnlySpan<byte> Message => System.Runtime.InteropServices.CollectionsMarshal.AsSpan(_bytes);

        public bool Completes(MidiEvent packet)
        {
            if (packet.Status == MidiEvent.SysExStatus)
            {
                _bytes.Clear();
                _isOpen = true;
            }
            else if (!_isOpen)
            {
                return false;
            }

            var content = packet.Content.Span;
            _bytes.AddRange(content[..Math.Min(content.Length, Longest)]);
            if (_bytes.Count > Longest)
            {
                _isOpen = false;
            }

            var ends = content.Length > 0 && content[^1] == MidiEvent.EscapeStatus;
            var complete = ends && _isOpen;
            _isOpen &= !ends;
            return complete;
        }
    }
}
