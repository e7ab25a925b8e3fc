namespace GrooveLab.Music.Band;

/// <summary>A player of the band: role, instrument, and how the role is to be played.</summary>
public sealed record Part
{
    /// <summary>The name it goes by; different from every other part's.</summary>
    public required string Name { get; init; }

    /// <summary>What it does in the texture.</summary>
    public required Role Role { get; init; }

    /// <summary>What it plays on.</summary>
    public required Instrument Instrument { get; init; }

    /// <summary>Lowest key that it uses; inside the instrument's range.</summary>
    public required int Lowest { get; init; }

    /// <summary>Highest key that it uses; inside the instrument's range.</summary>
    public required int Highest { get; init; }

    /// <summary>Level in dB, -60 to +6; 0 is as the instrument comes.</summary>
    public double LevelDecibels { get; init; }

    /// <summary>-100 left to 100 right.</summary>
    public int Pan { get; init; }

    /// <summary>The role's settings; of the kind that fits <see cref="Role"/>.</summary>
    public required RoleSettings Settings { get; init; }
}
