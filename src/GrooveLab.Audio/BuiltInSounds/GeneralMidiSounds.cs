using System.Globalization;

namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A General MIDI sound and the built-in sound that plays it.</summary>
/// <param name="Number">The program as on the wire, or the key of the drum kit.</param>
/// <param name="Name">The General MIDI name.</param>
/// <param name="StandIn">The program or key of the built-in sound; equal to <paramref name="Number"/> if the bank has the sound itself.</param>
public sealed record GeneralMidiSound(int Number, string Name, int StandIn);

/// <summary>
/// General MIDI level 1 played by the built-in bank: for every program and drum, the nearest of its few sounds. The table is in the file
/// <c>general-midi.tsv</c>.
/// </summary>
public static class GeneralMidiSounds
{
    /// <summary>The key of the kit that plays a key without a General MIDI drum.</summary>
    public const int OtherDrum = 37;

    private static readonly int[] KeyStandIns = new int[128];

    static GeneralMidiSounds()
    {
        var programs = new List<GeneralMidiSound>();
        var drums = new List<GeneralMidiSound>();
        using var stream = typeof(GeneralMidiSounds).Assembly.GetManifestResourceStream("general-midi.tsv")!;
        using var reader = new StreamReader(stream);
        while (reader.ReadLine() is { } line)
        {
            if (line.StartsWith('#') || line.Split('\t') is not [var kind, var number, var name, var standIn])
            {
                continue;
            }

            (kind == "program" ? programs : drums).Add(new GeneralMidiSound(
                int.Parse(number, CultureInfo.InvariantCulture), name, int.Parse(standIn, CultureInfo.InvariantCulture)));
        }

        Programs = programs;
        Drums = drums;
        Array.Fill(KeyStandIns, OtherDrum);
        foreach (var drum in drums)
        {
            KeyStandIns[drum.Number] = drum.StandIn;
        }
    }

    /// <summary>The 128 programs, in order.</summary>
    public static IReadOnlyList<GeneralMidiSound> Programs { get; }

    /// <summary>The drums, by key; keys 33 and 34 are those of General MIDI level 2.</summary>
    public static IReadOnlyList<GeneralMidiSound> Drums { get; }

    /// <summary>The key of the built-in kit that plays a key, 0-127.</summary>
    public static int StandInForKey(int key) => KeyStandIns[key];

    /// <summary>The General MIDI name of a drum, or "key 20" if it has none.</summary>
    public static string DrumName(int key) => Drums.FirstOrDefault(drum => drum.Number == key)?.Name ?? $"key {key}";
}
