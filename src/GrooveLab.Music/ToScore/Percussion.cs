using System.Globalization;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.ToScore;

/// <summary>The sounds of the count on a percussion staff: the stronger the beat, the higher.</summary>
internal static class Percussion
{
    /// <summary>The id in the score of a sound of a part.</summary>
    public static string IdOf(string part, int key) => string.Create(CultureInfo.InvariantCulture, $"{part}-I{key}");

    /// <summary>Its place on the staff.</summary>
    public static StaffPosition PositionOf(int key) => key switch
    {
        CountKeys.BarGroup => new StaffPosition(NoteLetter.G, 5),
        CountKeys.Bar => new StaffPosition(NoteLetter.E, 5),
        CountKeys.Group => new StaffPosition(NoteLetter.C, 5),
        _ => new StaffPosition(NoteLetter.A, 4),
    };

    /// <summary>The instruments of a part with clicks.</summary>
    public static ValueList<PartInstrument> Of(string part) =>
    [
        .. CountKeys.All.Select(key => new PartInstrument(IdOf(part, key), NameOf(key)) { PercussionKey = key }),
    ];

    // The names of General MIDI's percussion map.
    private static string NameOf(int key) => key switch
    {
        CountKeys.BarGroup => "claves",
        CountKeys.Bar => "high wood block",
        CountKeys.Group => "low wood block",
        _ => "side stick",
    };
}
