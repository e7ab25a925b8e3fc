namespace GrooveLab.Exchange.Midi;

/// <summary>
/// A Standard MIDI File of format 0 (one track) or 1 (tracks that play together), as events on ticks. Not yet music: <see cref="MidiTimeline"/>
/// says when each event sounds.
/// </summary>
public sealed class MidiFile
{
    /// <summary>Most tracks that the header can hold.</summary>
    public const int MostTracks = 0xFFFF;

    /// <summary>Makes a file.</summary>
    /// <param name="format">0 or 1.</param>
    /// <param name="division">What a tick is.</param>
    /// <param name="tracks">The tracks: one in format 0, at least one in format 1.</param>
    /// <exception cref="ArgumentException">Another format, or a number of tracks that does not go with it.</exception>
    public MidiFile(int format, MidiDivision division, IReadOnlyList<MidiTrack> tracks)
    {
        if (format is not (0 or 1) || tracks.Count is 0 or > MostTracks || (format == 0 && tracks.Count != 1) || division.Ticks == 0)
        {
            throw new ArgumentException($"Format {format} with {tracks.Count} tracks is not written; format 0 with one or format 1 with 1 to {MostTracks} is.");
        }

        (Format, Division, Tracks) = (format, division, tracks);
    }

    /// <summary>0 or 1.</summary>
    public int Format { get; }

    /// <summary>What a tick is.</summary>
    public MidiDivision Division { get; }

    /// <summary>The tracks; at least one.</summary>
    public IReadOnlyList<MidiTrack> Tracks { get; }

    /// <summary>What the reader found wrong in the file and how it was read; empty for a sound file, and for one that was not read.</summary>
    public IReadOnlyList<MidiWarning> Warnings { get; init; } = [];
}

/// <summary>
/// A track: events in order of their ticks, and the tick where it ends. The end is not among the events.
/// </summary>
public sealed class MidiTrack
{
    /// <summary>Makes a track.</summary>
    /// <param name="events">In order of their ticks; no end of track among them.</param>
    /// <param name="endTick">Where it ends; not before the last event.</param>
    /// <exception cref="ArgumentException">Out of order, or an end of track among the events.</exception>
    public MidiTrack(IReadOnlyList<MidiEvent> events, long endTick)
    {
        var tick = 0L;
        foreach (var item in events)
        {
            if (item.Tick < tick || item is { Status: < 0x80 } or { IsMeta: true, Data1: MetaType.EndOfTrack })
            {
                throw new ArgumentException($"{item} cannot stand here: ticks rise, and the end of the track is not one of its events.");
            }

            tick = item.Tick;
        }

        ArgumentOutOfRangeException.ThrowIfLessThan(endTick, tick);
        (Events, EndTick) = (events, endTick);
    }

    /// <summary>The events, in order.</summary>
    public IReadOnlyList<MidiEvent> Events { get; }

    /// <summary>The tick where the track ends.</summary>
    public long EndTick { get; }

    /// <summary>The track's name; null without one.</summary>
    public string? Name
    {
        get
        {
            foreach (var item in Events)
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
