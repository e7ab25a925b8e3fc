namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// A dense General MIDI piece generated from a fixed random seed: nine parts of different families in chords, a tune and a bass line over
/// drums.
/// </summary>
internal static class DenseMusic
{
    public const double Seconds = 16;

    // Piano, vibraphone, organ, guitar, bass, strings, brass, flute, pad: General MIDI programs from 0.
    private static readonly int[] Programs = [0, 11, 19, 25, 33, 48, 61, 73, 89];
    private static readonly int[][] Chords = [[0, 4, 7, 12], [5, 9, 12, 16], [7, 11, 14, 17], [-3, 0, 4, 9]];

    /// <summary>MIDI 1.0 messages with their time in seconds, in order; note-offs before note-ons at the same time.</summary>
    public static List<(double Seconds, byte[] Message)> Events()
    {
        var random = new Random(2);
        var events = new List<(double Seconds, byte[] Message)>();
        for (var part = 0; part < Programs.Length; part++)
        {
            events.Add((0, [(byte)(0xc0 | part), (byte)Programs[part]]));
            events.Add((0, [(byte)(0xb0 | part), 7, 110]));
            events.Add((0, [(byte)(0xb0 | part), 10, (byte)(24 + (part * 10))]));
            AddPart(events, part, random);
        }
        for (var eighth = 0; eighth < Seconds * 4; eighth++)
        {
            var start = eighth / 4.0;
            AddNote(events, 9, eighth % 8 == 7 ? 46 : 42, 70 + (eighth % 2 * 20), start, 0.2);
            if (eighth % 4 == 0)
                AddNote(events, 9, 36, 115, start, 0.2);
            if (eighth % 4 == 2)
                AddNote(events, 9, 38, 105, start, 0.2);
            if (eighth % 16 == 0)
                AddNote(events, 9, 49, 110, start, 1);
        }
        return [.. events.OrderBy(e => e.Seconds).ThenBy(e => (e.Message[0] & 0xf0) == 0x90 ? 1 : 0)];
    }

    private static void AddPart(List<(double, byte[])> events, int part, Random random)
    {
        // The bass and the flute play lines, the others chords; the parts have notes of different lengths.
        var isLine = part is 4 or 7;
        var length = isLine ? 0.5 : part % 3 == 0 ? 1 : 2;
        var root = part == 4 ? 36 : part == 7 ? 72 : 48 + (part % 2 * 12);
        for (var start = 0.0; start < Seconds; start += length)
        {
            var chord = Chords[(int)(start / 2) % Chords.Length];
            var keys = isLine ? [chord[random.Next(chord.Length)]] : chord;
            foreach (var key in keys)
                AddNote(events, part, root + key, 80 + random.Next(48), start, length * 0.9);
        }
    }

    private static void AddNote(List<(double, byte[])> events, int channel, int key, int velocity, double start, double length)
    {
        events.Add((start, [(byte)(0x90 | channel), (byte)key, (byte)velocity]));
        events.Add((start + length, [(byte)(0x80 | channel), (byte)key, 0]));
    }
}
