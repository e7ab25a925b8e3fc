namespace GrooveLab.Exchange.Midi;

/// <summary>A Standard MIDI File of format 0 (one track) or 1 (simultaneous tracks), as events on ticks. <see cref="MidiTimeline"/>
/// computes when each event sounds.</summary>
public sealed class MidiFile
{
    /// <summary>Maximum number of tracks in the header.</summary>
    public const int MostTracks = 0xFFFF;

    /// <summary>Creates a file.</summary>
    /// <param name="format">0 or 1.</param>
    /// <param name="division">The unit of a tick.</param>
    /// <param name="tracks">The tracks: one in format 0, at least one in format 1.</param>
    /// <exception cref="ArgumentException">Another format, or a number of tracks that does not match it.</exception>
    public MidiFile(int format, MidiDivision division, IReadOnlyList<MidiTrack> tracks)
    {
        if (format is not (0 or 1) || tracks.Count is 0 or > MostTracks || (format == 0 && tracks.Count != 1) || division.Ticks == 0)
        {
            throw new ArgumentException($"Format {format} cannot have {tracks.Count} tracks; format 0 has one, format 1 has 1 to {MostTracks}.");
        }

        (Format, Division, Tracks) = (format, division, tracks);
    }

    /// <summary>The keys of grace notes before a note of a performed file, by its track, tick and key; they have no events of their own.</summary>
    internal IReadOnlyDictionary<(int Track, long Tick, int Key), IReadOnlyList<int>> Graces { get; init; } = new Dictionary<(int Track, long Tick, int Key), IReadOnlyList<int>>();

    /// <summary>0 or 1.</summary>
    public int Format { get; }

    /// <summary>The unit of a tick.</summary>
    public MidiDivision Division { get; }

    /// <summary>The tracks; at least one.</summary>
    public IReadOnlyList<MidiTrack> Tracks { get; }

    /// <summary>What the reader found wrong in the file and how it was read; empty for a sound file, and for one that was not read.</summary>
    public IReadOnlyList<MidiWarning> Warnings { get; init; } = [];
}

/// <summary>A track: events in order of their ticks, and its end tick. The end is not among the events.</summary>
public sealed class MidiTrack
{
    private readonly MidiEvent[] _events;

    /// <summary>Creates a track.</summary>
    /// <param name="events">In order of their ticks; without an end of track.</param>
    /// <param name="endTick">Its end; not before the last event.</param>
    /// <exception cref="ArgumentException">Events out of order, or an end of track among them.</exception>
    public MidiTrack(IReadOnlyList<MidiEvent> events, long endTick)
        : this([.. events], endTick)
    {
    }

    // Arrays, because the runtime compiles the interfaces of lists of values at start.
    internal MidiTrack(MidiEvent[] events, long endTick)
    {
        var tick = 0L;
        foreach (var item in events)
        {
            if (item.Tick < tick || item is { Status: < 0x80 } or { IsMeta: true, Data1: MetaType.EndOfTrack })
            {
                throw new ArgumentException($"{item} is not allowed: ticks must ascend, and exclude the end of track.");
            }

            tick = item.Tick;
        }

        ArgumentOutOfRangeException.ThrowIfLessThan(endTick, tick);
        (_events, EndTick) = (events, endTick);
    }

    /// <summary>The events, in order.</summary>
    public IReadOnlyList<MidiEvent> Events => _events;

    /// <summary>The same events, for fast reading.</summary>
    internal ReadOnlySpan<MidiEvent> All => _events;

    /// <summary>The tick at which the track ends.</summary>
    public long EndTick { get; }

    /// <summary>The track's name; null for none.</summary>
    public string? Name
    {
        get
        {
            foreach (var item in _events)
            {
                if (item is { IsMeta: true, Data1: MetaType.TrackName })
                {
                    return item.Text;
                }
            }

            return null;
        }
    }
}
