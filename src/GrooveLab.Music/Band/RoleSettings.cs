using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Music.Band;

/// <summary>How a part plays its role; one kind of settings for each role.</summary>
public abstract record RoleSettings
{
    /// <summary>The settings a role starts with.</summary>
    public static RoleSettings For(Role role) => role switch
    {
        Role.Pulse => new PulseSettings(),
        Role.Roll => new RollSettings(),
        Role.Bass => new BassSettings(),
        Role.Sustain => new SustainSettings(),
        Role.Tune => new TuneSettings(),
        _ => new CountSettings(),
    };
}

/// <summary>Which way the pulse's strokes go inside a group.</summary>
public enum StrokeOrder
{
    /// <summary>Two is down-up, three down-up-down, all down where units are slow.</summary>
    Alternate,

    /// <summary>The heavy three: down-down-up.</summary>
    Heavy,

    /// <summary>Every stroke down.</summary>
    Down,
}

/// <summary>Which of the units a pulse part plays, so that two players can share them.</summary>
public enum PulseShare
{
    /// <summary>All of them.</summary>
    All,

    /// <summary>Those on which a group starts.</summary>
    Starts,

    /// <summary>Those between.</summary>
    Between,
}

/// <summary>Settings of a pulse part.</summary>
public sealed record PulseSettings : RoleSettings
{
    /// <summary>Order of strokes.</summary>
    public StrokeOrder Strokes { get; init; }

    /// <summary>True: strokes between felt beats are damped. False: all ring.</summary>
    public bool Damped { get; init; } = true;

    /// <summary>Notes in a chord, 1-4.</summary>
    public int Voices { get; init; } = 3;

    /// <summary>Which units it plays.</summary>
    public PulseShare Share { get; init; }

    /// <summary>Spread of a strum from string to string, in milliseconds, 0-14; 0 plucks all at once.</summary>
    public int StrumMs { get; init; } = 9;
}

/// <summary>How the roll's cells lie against the grouping.</summary>
public enum Crossing
{
    /// <summary>Cells follow the groups.</summary>
    Follow,

    /// <summary>Cells of one size run on across groups and bar lines from the section's start.</summary>
    Free,

    /// <summary>Cells of one size run across, and meet the bar line again at every bar group.</summary>
    Land,
}

/// <summary>Settings of a roll part.</summary>
public sealed record RollSettings : RoleSettings
{
    /// <summary>How cells lie against the grouping.</summary>
    public Crossing Crossing { get; init; }

    /// <summary>The hand's limit in milliseconds, when it differs from the instrument's; 40-400.</summary>
    public int? HandLimitMs { get; init; }
}

/// <summary>Settings of a bass part.</summary>
public sealed record BassSettings : RoleSettings
{
    /// <summary>Share of chord changes that are approached by step on the last unit before, 0-0.3.</summary>
    public double Approaches { get; init; } = 0.2;

    /// <summary>How much of the space to its next note a note sounds, 0.2-1; null leaves it to the felt level.</summary>
    public double? Ring { get; init; }
}

/// <summary>How far a part comes after the line when it lays back.</summary>
public enum LayBack
{
    /// <summary>Not at all.</summary>
    None,

    /// <summary>Half a unit.</summary>
    Half,

    /// <summary>A unit.</summary>
    Unit,
}

/// <summary>Settings of a sustain part.</summary>
public sealed record SustainSettings : RoleSettings
{
    /// <summary>Voices held, 1 or 2.</summary>
    public int Voices { get; init; } = 2;

    /// <summary>How far some entries come after the line.</summary>
    public LayBack LaidBack { get; init; }
}

/// <summary>Settings of a tune part.</summary>
public sealed record TuneSettings : RoleSettings
{
    /// <summary>Octaves up or down from what is written, -3 to 3.</summary>
    public int Octaves { get; init; }

    /// <summary>True: a grace note marks the consonant with which a syllable begins.</summary>
    public bool Consonants { get; init; }

    /// <summary>How far long notes on group starts come after the line; a held consonant marks the beat.</summary>
    public LayBack LaidBack { get; init; }
}

/// <summary>What the count clicks on.</summary>
public enum CountOn
{
    /// <summary>The felt beats.</summary>
    Felt,

    /// <summary>Every unit.</summary>
    Units,

    /// <summary>Group starts.</summary>
    Groups,

    /// <summary>Bar lines.</summary>
    Bars,

    /// <summary>Only before the start.</summary>
    Nothing,
}

/// <summary>Settings of a count part.</summary>
public sealed record CountSettings : RoleSettings
{
    /// <summary>What it clicks on once the band plays.</summary>
    public CountOn On { get; init; }
}
