using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Band;

/// <summary>What a part does in the texture.</summary>
public enum Role
{
    /// <summary>Plays the units.</summary>
    Pulse,

    /// <summary>Subdivides continuously.</summary>
    Roll,

    /// <summary>Marks the downbeats, sparsely.</summary>
    Bass,

    /// <summary>Holds the longest notes.</summary>
    Sustain,

    /// <summary>Plays the melody with its words.</summary>
    Tune,

    /// <summary>Clicks, by default on the felt beats.</summary>
    Count,
}

/// <summary>The words for the roles in charts and reports.</summary>
public static class Roles
{
    /// <summary>The role in lower case: "pulse", "roll", "bass", "sustain", "tune" or "count".</summary>
    public static string Name(this Role role) => role switch
    {
        Role.Pulse => "pulse",
        Role.Roll => "roll",
        Role.Bass => "bass",
        Role.Sustain => "sustain",
        Role.Tune => "tune",
        _ => "count",
    };

    /// <summary>Reads a role.</summary>
    public static bool TryParse(string? text, out Role role)
    {
        foreach (var candidate in Enum.GetValues<Role>())
        {
            if (string.Equals(candidate.Name(), text?.Trim(), StringComparison.OrdinalIgnoreCase))
            {
                role = candidate;
                return true;
            }
        }

        role = default;
        return false;
    }
}
