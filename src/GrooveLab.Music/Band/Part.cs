namespace GrooveLab.Music.Band;

/// <summary>A part of the band: role, instrument and the settings of the role.</summary>
public sealed record Part
{
    /// <summary>Most characters of a name.</summary>
    public const int LongestName = 40;

    /// <summary>The word that charts use for nobody; no part can have it as its name.</summary>
    public const string Nobody = "none";

    /// <summary>True for a usable name: it is also the name of the part's sound file, and not <see cref="Nobody"/>.</summary>
    public static bool IsName(string name) =>
        name.Length is > 0 and <= LongestName && !string.Equals(name, Nobody, StringComparison.OrdinalIgnoreCase) && !name.StartsWith('.') && !name.Any(c => char.IsControl(c) || ",/\\:*?\"<>|".Contains(c, StringComparison.Ordinal));

    /// <summary>Its name; unique in the band.</summary>
    public required string Name { get; init; }

    /// <summary>True for its name, the name of its instrument or of its role.</summary>
    public bool IsCalled(string name) =>
        new[] { Name, Instrument.Name, Role.Name() }.Contains(name.Trim(), StringComparer.OrdinalIgnoreCase);

    /// <summary>Its role in the texture.</summary>
    public required Role Role { get; init; }

    /// <summary>Its instrument.</summary>
    public required Instrument Instrument { get; init; }

    /// <summary>Lowest MIDI key that it uses; inside the instrument's range.</summary>
    public required int Lowest { get; init; }

    /// <summary>Highest MIDI key that it uses; inside the instrument's range.</summary>
    public required int Highest { get; init; }

    /// <summary>Level in dB, -60 to +6; 0 leaves the instrument unchanged.</summary>
    public double LevelDecibels { get; init; }

    /// <summary>Pan, -100 (left) to 100 (right).</summary>
    public int Pan { get; init; }

    /// <summary>True for a part that is silent until it is switched on, such as the player's own.</summary>
    public bool Silent { get; init; }

    /// <summary>The settings of the role; their type matches <see cref="Role"/>.</summary>
    public required RoleSettings Settings { get; init; }
}
