using System.Globalization;

namespace GrooveLab.Exchange.Midi;

/// <summary>A note of a MIDI file.</summary>
/// <param name="On">Its first tick.</param>
/// <param name="Off">The tick at which it ends, after the first.</param>
/// <param name="Key">Its key, 0 to 127.</param>
internal readonly record struct MidiNote(long On, long Off, int Key);

/// <summary>The notes of one part of a MIDI file: a track, or a channel of it.</summary>
internal sealed class MidiScorePart(int track, int? channel, bool isPercussion)
{
    /// <summary>Index of the track.</summary>
    public int Track => track;

    /// <summary>True for the percussion channel, where keys are instruments and not pitches.</summary>
    public bool IsPercussion => isPercussion;

    /// <summary>Its name.</summary>
    public string Name { get; set; } = "";

    /// <summary>Its first program; null for none.</summary>
    public int? Program { get; set; }

    /// <summary>Its notes, in order of onset, the highest first.</summary>
    public List<MidiNote> Notes { get; set; } = [];

    /// <summary>Its place in the file, for messages.</summary>
    public string Place => string.Create(CultureInfo.InvariantCulture, $"track {track + 1}") + (channel is { } one ? string.Create(CultureInfo.InvariantCulture, $", channel {one + 1}") : "");
}

/// <summary>Divides the events of a MIDI file into parts, and pairs the starts and ends of notes.</summary>
internal sealed class MidiScoreParts
{
    private const int PercussionChannel = 9;

    /// <summary>Reads the parts.</summary>
    public MidiScoreParts(MidiFile file)
    {
        // In a file with several tracks of notes each is a player, whatever its channels; otherwise each channel is one.
        var byTrack = file.Tracks.Count(track => track.Events.Any(item => item.IsNoteOn)) > 1;
        for (var t = 0; t < file.Tracks.Count; t++)
        {
            Read(file.Tracks[t], t, byTrack);
        }

        Parts.RemoveAll(part => part.Notes.Count == 0);
        foreach (var part in Parts)
        {
            // Of two notes on one key that start together only the longer is heard.
            part.Notes = [.. part.Notes.OrderBy(note => note.On).ThenByDescending(note => note.Key).ThenByDescending(note => note.Off).DistinctBy(note => (note.On, note.Key))];
        }
    }

    /// <summary>The parts with notes, in order of track and channel.</summary>
    public List<MidiScorePart> Parts { get; } = [];

    /// <summary>Notes without an end in the file.</summary>
    public int Unended { get; private set; }

    private void Read(MidiTrack track, int index, bool byTrack)
    {
        var parts = new Dictionary<(int, bool), MidiScorePart>();
        var sounding = new Dictionary<(int Channel, int Key), Queue<long>>();
        string? name = null;
        string? instrument = null;
        var programs = new int?[16];
        MidiScorePart PartOf(int channel)
        {
            var isPercussion = channel == PercussionChannel;
            var key = (byTrack && !isPercussion ? -1 : channel, isPercussion);
            if (!parts.TryGetValue(key, out var part))
            {
                part = new MidiScorePart(index, byTrack ? null : channel, isPercussion) { Program = isPercussion ? null : programs[channel] };
                parts.Add(key, part);
            }

            return part;
        }

        foreach (var item in track.Events)
        {
            if (item.IsMeta)
            {
                name ??= item.Data1 == MetaType.TrackName ? item.Text.Trim() : null;
                instrument ??= item.Data1 == MetaType.InstrumentName ? item.Text.Trim() : null;
            }
            else if (item.Kind == 0xC0)
            {
                programs[item.Channel] ??= item.Data1;
            }
            else if (item.IsNoteOn)
            {
                _ = PartOf(item.Channel);
                if (!sounding.TryGetValue((item.Channel, item.Data1), out var starts))
                {
                    sounding.Add((item.Channel, item.Data1), starts = new Queue<long>());
                }

                starts.Enqueue(item.Tick);
            }
            else if (item.IsNoteOff && sounding.TryGetValue((item.Channel, item.Data1), out var starts) && starts.TryDequeue(out var on))
            {
                PartOf(item.Channel).Notes.Add(new MidiNote(on, Math.Max(on + 1, item.Tick), item.Data1));
            }
        }

        foreach (var ((channel, key), starts) in sounding.OrderBy(pair => pair.Key))
        {
            foreach (var on in starts)
            {
                Unended++;
                PartOf(channel).Notes.Add(new MidiNote(on, Math.Max(on + 1, track.EndTick), key));
            }
        }

        foreach (var (key, part) in parts.OrderBy(pair => pair.Key))
        {
            var plain = string.IsNullOrEmpty(name) ? instrument : name;
            part.Name = string.IsNullOrEmpty(plain)
                ? part.IsPercussion ? "Percussion" : string.Create(CultureInfo.InvariantCulture, $"Part {Parts.Count + 1}")
                : parts.Count > 1 && key.Item1 >= 0 ? string.Create(CultureInfo.InvariantCulture, $"{plain} ({(part.IsPercussion ? "percussion" : $"channel {key.Item1 + 1}")})")
                : plain;
            Parts.Add(part);
        }
    }
}
