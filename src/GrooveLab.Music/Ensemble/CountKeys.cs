namespace GrooveLab.Music.Ensemble;

/// <summary>The sounds of the count, as keys of the General MIDI drum kit: the higher the level, the higher the sound. From memory of
/// General MIDI level 1.</summary>
public static class CountKeys
{
    /// <summary>Claves: a bar group starts.</summary>
    public const int BarGroup = 75;

    /// <summary>High wood block: a bar starts.</summary>
    public const int Bar = 76;

    /// <summary>Low wood block: a group starts.</summary>
    public const int Group = 77;

    /// <summary>Side stick: a unit.</summary>
    public const int Unit = 37;

    /// <summary>All of them.</summary>
    public static IReadOnlyList<int> All { get; } = [Unit, BarGroup, Bar, Group];
}
