using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Band;

/// <summary>How an instrument is played; this limits what hands can do.</summary>
public enum Technique
{
    /// <summary>Plucked by fingers: no finger and no string twice in a row.</summary>
    Fingers,

    /// <summary>Plucked by a plectrum: strict down and up.</summary>
    Plectrum,

    /// <summary>Struck by two hammers: no hand twice in a row.</summary>
    Hammers,

    /// <summary>Bowed: a note lasts for one stroke.</summary>
    Bow,

    /// <summary>Free reeds: a note lasts while the bellows move.</summary>
    Reed,

    /// <summary>Blown, or sung: a note lasts for one breath.</summary>
    Breath,

    /// <summary>Clicks and blocks without pitch.</summary>
    Click,
}

/// <summary>What an instrument can play and which sound it uses. Pure data: the catalogue is a file to which musicians can add.</summary>
public sealed record Instrument
{
    /// <summary>Its name in charts.</summary>
    public required string Name { get; init; }

    /// <summary>How it is played.</summary>
    public required Technique Technique { get; init; }

    /// <summary>Lowest MIDI key.</summary>
    public required int Lowest { get; init; }

    /// <summary>Highest MIDI key.</summary>
    public required int Highest { get; init; }

    /// <summary>Open strings or courses as MIDI keys, in order of position; empty for none.</summary>
    public IReadOnlyList<int> Strings { get; init; } = [];

    /// <summary>Highest fret of a fretted or stopped string.</summary>
    public int Frets { get; init; } = 15;

    /// <summary>True when the first string is a short drone, tuned above its neighbours and played by the thumb.</summary>
    public bool ShortDrone { get; init; }

    /// <summary>The shortest sustained interval between two notes, in milliseconds.</summary>
    public int HandLimitMs { get; init; } = 85;

    /// <summary>Frets that the hand covers in a chord, including first and last.</summary>
    public int Stretch { get; init; } = 5;

    /// <summary>The MIDI key below which its chords have no intervals of a third or smaller.</summary>
    public int LowIntervalLimit { get; init; } = Harmony.Voicings.LowIntervalLimit;

    /// <summary>Maximum number of simultaneous notes.</summary>
    public int Voices { get; init; } = 4;

    /// <summary>General MIDI program of its sound, 0-127.</summary>
    public required int Program { get; init; }

    /// <summary>General MIDI program of its damped sound, 0-127; null when damping only shortens the note.</summary>
    public int? DampedProgram { get; init; }

    /// <summary>True for percussion: keys are sounds of the drum kit, not pitches.</summary>
    public bool Unpitched => Technique == Technique.Click;

    /// <summary>True when a note can be held at constant loudness.</summary>
    public bool Holds => Technique is Technique.Bow or Technique.Reed or Technique.Breath;
}
