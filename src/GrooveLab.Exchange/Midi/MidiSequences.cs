namespace GrooveLab.Exchange.Midi;

/// <summary>The sequences of a format 2 file, which each have a time of their own.</summary>
internal static class MidiSequences
{
    // Reset all controllers leaves volume, pan and bank (RP-015); the last one ends mono mode.
    private static readonly (int Number, int Value)[] AtRest = [(121, 0), (7, 100), (10, 64), (0, 0), (32, 0), (127, 0)];

    /// <summary>
    /// Joins them into one track in which each starts where the one before it ends: at the standard tempo, unless it has another at its start,
    /// and with no note, pedal, program or other setting of the one before it.
    /// </summary>
    public static MidiTrack InTurn(IReadOnlyList<MidiTrack> sequences)
    {
        var events = new List<MidiEvent>(sequences.Sum(sequence => sequence.Events.Count + 1));
        var begin = 0L;
        var down = new SortedDictionary<int, int>();
        var hasPort = false;
        var used = new SortedSet<int>();
        foreach (var sequence in sequences)
        {
            if (begin > 0 || events.Count > 0)
            {
                const int Tempo = MidiTimeline.StandardTempo;
                events.Add(MidiEvent.Meta(begin, MetaType.Tempo, [(byte)(Tempo >> 16), (byte)(Tempo >> 8 & 0xFF), (byte)(Tempo & 0xFF)]));
            }

            foreach (var channel in used)
            {
                events.AddRange(AtRest.Select(control => MidiEvent.ForChannel(begin, 0xB0 | channel, control.Number, control.Value)));
                events.Add(MidiEvent.ForChannel(begin, 0xC0 | channel, 0, 0));
            }

            used.Clear();
            if (hasPort)
            {
                events.Add(MidiEvent.Meta(begin, MetaType.Port, [0]));
                hasPort = false;
            }

            foreach (var item in sequence.Events)
            {
                hasPort |= item is { IsMeta: true, Data1: MetaType.Port };
                events.Add(item.At(begin + item.Tick));
                if (item.Kind is > 0x90 and < 0xF0)
                {
                    used.Add(item.Channel);
                }

                if (item.Kind is 0x80 or 0x90)
                {
                    var key = (item.Channel << 7) | item.Data1;
                    down[key] = Math.Max(0, down.GetValueOrDefault(key) + (item.IsNoteOn ? 1 : -1));
                }
            }

            begin += sequence.EndTick;
            foreach (var (key, times) in down)
            {
                for (var i = 0; i < times; i++)
                {
                    events.Add(MidiEvent.ForChannel(begin, 0x80 | (key >> 7), key & 127, 0));
                }
            }

            down.Clear();
        }

        return new MidiTrack(events, begin);
    }
}
