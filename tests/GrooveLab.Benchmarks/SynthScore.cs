namespace GrooveLab.Benchmarks;

/// <summary>
/// The music that both synthesizers play: two minutes of held chords in eight parts over drums, at least 64 voices at a time.
/// Generated from a fixed random seed, so every run plays the same.
/// </summary>
internal static class SynthScore
{
    /// <summary>Length in seconds, before the last releases.</summary>
    public const int Seconds = 120;

    /// <summary>All parts: 143 voices on average.</summary>
    public const string AllParts = "01234567";

    /// <summary>Ticks a second; every time is a whole number of ticks.</summary>
    public const int TicksPerSecond = 960;

    // General MIDI: pianos, organ, guitar, strings, choir, brass, pad. Most start one or two voices a note.
    private static readonly byte[] Programs = [0, 4, 19, 24, 48, 52, 61, 89];
    private static readonly int[] Drums = [36, 42, 38, 42];
    private static readonly int[] Chord = [0, 7, 12, 16, 19, 24];

    /// <summary>MIDI 1.0 messages with their ticks, in order; note-offs before note-ons on the same tick.</summary>
    /// <param name="parts">The parts that play, one digit each.</param>
    public static List<(int Tick, byte[] Message)> Events(string parts = AllParts)
    {
        var events = new List<(int Tick, byte[] Message)>();
        var random = new Random(11);
        foreach (var digit in parts)
        {
            var part = digit - '0';
            var channel = Channel(part);
            events.Add((0, [(byte)(0xc0 | channel), Programs[part]]));
            events.Add((0, [(byte)(0xb0 | channel), 91, 60]));
            events.Add((0, [(byte)(0xb0 | channel), 93, 30]));
            AddChords(events, channel, part, random);
        }
        events.Add((0, [0xb9, 91, 60]));
        for (var tick = TicksPerSecond; tick < Seconds * TicksPerSecond; tick += TicksPerSecond / 4)
            AddNote(events, 9, Drums[tick / (TicksPerSecond / 4) % 4], 90, tick, TicksPerSecond / 5);
        return [.. events.OrderBy(e => e.Tick).ThenBy(e => (e.Message[0] & 0xf0) == 0x90 ? 1 : 0)];
    }

    private static void AddChords(List<(int Tick, byte[] Message)> events, int channel, int part, Random random)
    {
        // Parts change chords at different times, so that the load is even.
        var start = (part * TicksPerSecond / 8) + (TicksPerSecond / 4);
        for (var tick = start; tick < Seconds * TicksPerSecond; tick += 2 * TicksPerSecond)
        {
            var root = 36 + random.Next(12) + (part % 3 * 4);
            foreach (var interval in Chord)
                AddNote(events, channel, root + interval, 70 + random.Next(50), tick + random.Next(20), (2 * TicksPerSecond) - 60);
        }
    }

    private static void AddNote(List<(int Tick, byte[] Message)> events, int channel, int key, int velocity, int tick, int length)
    {
        events.Add((tick, [(byte)(0x90 | channel), (byte)key, (byte)velocity]));
        events.Add((tick + length, [(byte)(0x80 | channel), (byte)key, 0]));
    }

    private static int Channel(int part) => part < 9 ? part : part + 1;
}
