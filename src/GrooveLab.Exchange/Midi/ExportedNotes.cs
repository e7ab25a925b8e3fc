using System.Runtime.InteropServices;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;

namespace GrooveLab.Exchange.Midi;

/// <summary>The notes and controllers of a band on ticks and channels, one track per part.</summary>
internal sealed class ExportedNotes
{
    private const int Volume = 7;
    private const int Pan = 10;
    private const int Expression = 11;

    // Channel volume of a part at 0 dB, as at the start of General MIDI; volume is 40·log10(value/127) dB.
    private const int UsualVolume = 100;
    private const int ChannelsOfPort = MidiTimeline.ChannelsOfPort;

    // The order of events on the same tick.
    private const int OrderOff = 0;
    private const int OrderControl = 1;
    private const int OrderLyric = 2;
    private const int OrderOn = 3;

    private readonly IReadOnlyList<PartChannels> _parts;
    private readonly Dictionary<int, int> _channels = [];
    private readonly double[] _velocityScale;
    private readonly int[] _volume;
    private readonly List<(int Part, int Order, MidiEvent Event)> _events = [];
    private readonly List<string> _remarks = [];

    public ExportedNotes(IBarSource band, IReadOnlyList<Bar> bars, TickGrid grid, WrittenTempi tempi, MidiExportOptions options)
    {
        _parts = band.Band;
        _velocityScale = new double[_parts.Count];
        _volume = new int[_parts.Count];
        AssignChannels();
        Balance();
        var notes = Place(bars, grid, tempi, options);
        Untangle(notes);
        foreach (var note in notes)
        {
            Write(note);
        }

        WriteControls(bars, grid, tempi, options);
        LastTick = _events.Count == 0 ? 0 : _events.Max(item => item.Event.Tick);
    }

    public IReadOnlyList<string> Remarks => _remarks;

    public long LastTick { get; }

    public IEnumerable<MidiTrack> Tracks(long endTick)
    {
        var byPart = _events.ToLookup(item => item.Part);
        for (var part = 0; part < _parts.Count; part++)
        {
            var events = SetUp(part);
            events.AddRange(byPart[part].OrderBy(item => item.Event.Tick).ThenBy(item => item.Order).Select(item => item.Event));
            yield return new MidiTrack(events, endTick);
        }
    }

    private int Port(int part) => _channels[_parts[part].Channel] / ChannelsOfPort;

    private int ChannelOf(int part, Touch touch) => _channels[_parts[part].ChannelFor(touch)] % ChannelsOfPort;

    // A band that needs more than 16 channels continues on the next port; the percussion channel of each is left free.
    private void AssignChannels()
    {
        var next = 0;
        foreach (var player in _parts)
        {
            if (player.Channel == PartChannels.PercussionChannel)
            {
                _channels[player.Channel] = PartChannels.PercussionChannel;
                continue;
            }

            var needed = player.DampedChannel == player.Channel ? 1 : 2;
            // Both channels of a part must be on its one port.
            if (next % ChannelsOfPort + needed > ChannelsOfPort)
            {
                next += ChannelsOfPort - (next % ChannelsOfPort);
            }

            foreach (var channel in new[] { player.Channel, player.DampedChannel }.Distinct())
            {
                next += next % ChannelsOfPort == PartChannels.PercussionChannel ? 1 : 0;
                _channels[channel] = next++;
            }
        }
    }

    // Volume only attenuates from 127 down: if the loudest part exceeds that, the whole band is softer.
    private void Balance()
    {
        var most = 40 * Math.Log10(127.0 / UsualVolume);
        var shift = Math.Max(0, _parts.Max(player => player.LevelDecibels) - most);
        for (var part = 0; part < _parts.Count; part++)
        {
            var player = _parts[part];
            // Parts that share the percussion channel share its volume: the loudest sets it, the others get lower velocities.
            var loudest = _parts.Where(other => other.Channel == player.Channel).Max(other => other.LevelDecibels);
            _volume[part] = Math.Clamp((int)Math.Round(UsualVolume * Math.Pow(10, (loudest - shift) / 40)), 0, 127);
            _velocityScale[part] = Math.Pow(10, (player.LevelDecibels - loudest) / 40);
        }
    }

    private List<Note> Place(IReadOnlyList<Bar> bars, TickGrid grid, WrittenTempi tempi, MidiExportOptions options)
    {
        var notes = new List<Note>();
        var early = 0;
        var rounded = 0;
        foreach (var bar in bars)
        {
            foreach (var note in bar.Notes)
            {
                rounded += grid.IsExactAt(bar.Start + note.Onset) ? 0 : 1;
                var on = tempi.TickAfter(grid.TickAt(bar.Start + note.Onset), OnsetOffset(note, options));
                var off = tempi.TickAfter(grid.TickAt(bar.Start + note.End), ReleaseOffset(note, options));
                early += on < 0 ? 1 : 0;
                on = Math.Max(0, on);
                notes.Add(new Note
                {
                    Part = note.Part,
                    Channel = ChannelOf(note.Part, note.Touch),
                    Key = note.Key,
                    Velocity = Math.Clamp((int)Math.Round(note.Velocity * _velocityScale[note.Part]), 1, 127),
                    On = on,
                    Off = Math.Max(on + 1, off),
                    Syllable = note.Syllable,
                });
            }
        }

        if (rounded > 0)
        {
            _remarks.Add(
                $"{rounded} notes do not fall on a tick (a quarter has {grid.TicksPerQuarter}); they are moved to the nearest tick, "
                + "at most half a tick away");
        }

        if (early > 0)
        {
            _remarks.Add($"{early} notes would come before the start of the file; they are moved to the start");
        }

        return notes;
    }

    private static long OnsetOffset(NoteEvent note, MidiExportOptions options) =>
        options.HumanFeel ? (long)note.OffsetMicroseconds + note.SpreadMicroseconds
        : note.IsGrace ? note.SpreadMicroseconds
        : 0;

    private static long ReleaseOffset(NoteEvent note, MidiExportOptions options) =>
        options.HumanFeel ? (long)note.OffsetMicroseconds + note.OverlapMicroseconds : 0;

    // A channel plays each key once: a note ends when its key starts again, and of two that start together one is kept.
    private void Untangle(List<Note> notes)
    {
        foreach (var same in notes.GroupBy(note => (Port(note.Part), note.Channel, note.Key)))
        {
            Note? before = null;
            foreach (var note in same.OrderBy(note => note.On).ThenBy(note => note.Part))
            {
                // The order of two tracks on one tick is undefined, so one tick is left between.
                var gap = before is not null && before.Part != note.Part ? 1 : 0;
                if (before is not null && note.On - gap <= before.On)
                {
                    before.Off = Math.Max(before.Off, note.Off);
                    before.Velocity = Math.Max(before.Velocity, note.Velocity);
                    before.Syllable ??= note.Syllable;
                    note.IsMerged = true;
                    continue;
                }

                if (before is not null)
                {
                    before.Off = Math.Min(before.Off, note.On - gap);
                }

                before = note;
            }
        }
    }

    private void Write(Note note)
    {
        if (note.IsMerged)
        {
            return;
        }

        if (note.Syllable is { } syllable)
        {
            _events.Add((note.Part, OrderLyric, MidiEvent.Meta(note.On, MetaType.Lyric, Lyric(syllable))));
        }

        _events.Add((note.Part, OrderOn, MidiEvent.ForChannel(note.On, 0x90 | note.Channel, note.Key, note.Velocity)));
        _events.Add((note.Part, OrderOff, MidiEvent.ForChannel(note.Off, 0x80 | note.Channel, note.Key, 64)));
    }

    // RP-017: a space ends a word; a syllable without one continues in the next. Further notes of a melisma have no event.
    private static string Lyric(string syllable) => syllable is [.. var text, '-'] && text.Length > 0 ? text : syllable + " ";

    private void WriteControls(IReadOnlyList<Bar> bars, TickGrid grid, WrittenTempi tempi, MidiExportOptions options)
    {
        var steps = new Dictionary<(int Part, int Channel, int Controller), SortedList<long, int>>();
        foreach (var bar in bars)
        {
            foreach (var step in bar.Controls.Where(step => step.Controller is not (Volume or Pan)))
            {
                var exact = grid.TickAt(bar.Start + step.Onset);
                var tick = Math.Max(0, options.HumanFeel ? tempi.TickAfter(exact, step.OffsetMicroseconds) : exact);
                foreach (var channel in ChannelsOf(step.Part))
                {
                    ref var curve = ref CollectionsMarshal.GetValueRefOrAddDefault(steps, (step.Part, channel, step.Controller), out _);
                    curve ??= [];
                    curve[tick] = Math.Clamp(step.Value, 0, 127);
                }
            }
        }

        foreach (var ((part, channel, controller), curve) in steps)
        {
            var before = controller == Expression ? 127 : -1;
            foreach (var (tick, value) in curve)
            {
                if (value != before)
                {
                    _events.Add((part, OrderControl, MidiEvent.ForChannel(tick, 0xB0 | channel, controller, value)));
                    before = value;
                }
            }
        }
    }

    private IEnumerable<int> ChannelsOf(int part) => new[] { ChannelOf(part, Touch.Open), ChannelOf(part, Touch.Damped) }.Distinct();

    private List<MidiEvent> SetUp(int part)
    {
        var player = _parts[part];
        var events = new List<MidiEvent>
        {
            MidiEvent.Meta(0, MetaType.TrackName, player.Name),
            MidiEvent.Meta(0, MetaType.InstrumentName, player.Instrument.Name),
        };
        if (Port(part) > 0)
        {
            events.Add(MidiEvent.Meta(0, MetaType.Port, [(byte)Port(part)]));
        }

        // The middle is 64 and the ends 1 and 127, so that both sides are equal.
        var pan = 64 + (int)Math.Round(player.Pan * 0.63, MidpointRounding.AwayFromZero);
        foreach (var touch in new[] { Touch.Open, Touch.Damped }.DistinctBy(touch => ChannelOf(part, touch)))
        {
            var channel = ChannelOf(part, touch);
            var program = player.Channel == PartChannels.PercussionChannel ? 0
                : touch == Touch.Damped ? player.Instrument.DampedProgram ?? player.Instrument.Program
                : player.Instrument.Program;
            events.Add(MidiEvent.ForChannel(0, 0xC0 | channel, program));
            events.Add(MidiEvent.ForChannel(0, 0xB0 | channel, Volume, _volume[part]));
            events.Add(MidiEvent.ForChannel(0, 0xB0 | channel, Pan, pan));
            events.Add(MidiEvent.ForChannel(0, 0xB0 | channel, Expression, 127));
        }

        return events;
    }

    private sealed class Note
    {
        public required int Part { get; init; }

        public required int Channel { get; init; }

        public required int Key { get; init; }

        public required long On { get; init; }

        public required long Off { get; set; }

        public required int Velocity { get; set; }

        public string? Syllable { get; set; }

        public bool IsMerged { get; set; }
    }
}
