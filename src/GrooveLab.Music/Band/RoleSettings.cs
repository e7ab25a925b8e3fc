using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Music.Band;

/// <summary>How a part plays its role; one type for each role.</summary>
public abstract record RoleSettings
{
    /// <summary>The default settings of a role.</summary>
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

/// <summary>The directions of the pulse's strokes inside a group.</summary>
public enum StrokeOrder
{
    /// <summary>Twos are down-up, threes down-up-down; all down when units are slow.</summary>
    Alternate,

    /// <summary>Threes are heavy: down-down-up.</summary>
    Heavy,

    /// <summary>All strokes down.</summary>
    Down,
}

/// <summary>Which of the units a pulse part plays, so that two parts can share them.</summary>
public enum PulseShare
{
    /// <summary>All units.</summary>
    All,

    /// <summary>Units on which a group starts.</summary>
    Starts,

    /// <summary>All other units.</summary>
    Between,
}

/// <summary>Settings of a pulse part.</summary>
public sealed record PulseSettings : RoleSettings
{
    /// <summary>Order of strokes.</summary>
    public StrokeOrder Strokes { get; init; }

    /// <summary>True to damp the strokes between felt beats; false to let all ring.</summary>
    public bool Damped { get; init; } = true;

    /// <summary>Most notes in a chord, 1-6; no more than the instrument has strings, and at most 4 without strings.</summary>
    public int Voices { get; init; } = 5;

    /// <summary>Which units it plays.</summary>
    public PulseShare Share { get; init; }

    /// <summary>Spread of a strum from string to string, in milliseconds, 0-14; 0 plucks all strings together.</summary>
    public int StrumMs { get; init; } = 9;
}

/// <summary>How the roll's cells align with the grouping.</summary>
public enum Crossing
{
    /// <summary>Cells follow the groups.</summary>
    Follow,

    /// <summary>Cells of one size run across groups and bar lines from the section's start.</summary>
    Free,

    /// <summary>Cells of one size run across groups and bar lines and realign at every bar group.</summary>
    Land,
}

/// <summary>Settings of a roll part.</summary>
public sealed record RollSettings : RoleSettings
{
    /// <summary>How cells align with the grouping.</summary>
    public Crossing Crossing { get; init; }

    /// <summary>The hand's limit, 40-400 ms; null for that of the instrument.</summary>
    public int? HandLimitMs { get; init; }
}

/// <summary>Settings of a bass part.</summary>
public sealed record BassSettings : RoleSettings
{
    /// <summary>Share of chord changes approached by step on the unit before, 0-0.5.</summary>
    public double Approaches { get; init; } = 0.4;

    /// <summary>Sounding share of the time to the next note, 0.2-1; null for that of the felt level.</summary>
    public double? Ring { get; init; }
}

/// <summary>How far a part lays back.</summary>
public enum LayBack
{
    /// <summary>Not at all.</summary>
    None,

    /// <summary>Half a unit.</summary>
    Half,

    /// <summary>A unit.</summary>
    Unit,

    /// <summary>All notes sound 40 to 80 ms behind the beat, as far in all notes of a phrase; nothing is written late.</summary>
    Lean,
}

/// <summary>Settings of a sustain part.</summary>
public sealed record SustainSettings : RoleSettings
{
    /// <summary>Number of held voices, 1 or 2.</summary>
    public int Voices { get; init; } = 2;

    /// <summary>How far some entries lay back after the bar line.</summary>
    public LayBack LaidBack { get; init; }
}

/// <summary>Settings of a tune part.</summary>
public sealed record TuneSettings : RoleSettings
{
    /// <summary>Transposition in octaves, -3 to 3.</summary>
    public int Octaves { get; init; }

    /// <summary>True to mark the initial consonant of a syllable with a grace note.</summary>
    public bool Consonants { get; init; }

    /// <summary>True to sing in phrases; false to play every note at its written length and level.</summary>
    public bool Phrasing { get; init; } = true;

    /// <summary>How far long notes on group starts lay back after the bar line; a held consonant marks the beat.</summary>
    public LayBack LaidBack { get; init; }
}

/// <summary>Where the count clicks.</summary>
public enum CountOn
{
    /// <summary>The felt beats.</summary>
    Felt,

    /// <summary>All units.</summary>
    Units,

    /// <summary>Group starts.</summary>
    Groups,

    /// <summary>Bar lines.</summary>
    Bars,

    /// <summary>Only before the band starts.</summary>
    Nothing,
}

/// <summary>Settings of a count part.</summary>
public sealed record CountSettings : RoleSettings
{
    /// <summary>What it clicks on once the band plays.</summary>
    public CountOn On { get; init; }
}
