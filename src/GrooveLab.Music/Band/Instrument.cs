using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Band;

/// <summary>How an instrument is made to sound; it decides what hands can do.</summary>
public enum Technique
{
    /// <summary>Plucked by fingers: no finger and no string twice in a row.</summary>
    Fingers,

    /// <summary>Plucked by a plectrum: strict down and up.</summary>
    Plectrum,

    /// <summary>Struck by two hammers: no hand twice in a row.</summary>
    Hammers,

    /// <summary>Bowed: one stroke holds.</summary>
    Bow,

    /// <summary>Free reeds: holds while the bellows move.</summary>
    Reed,

    /// <summary>Blown, or sung: holds for a breath.</summary>
    Breath,

    /// <summary>Clicks and blocks without pitch.</summary>
    Click,
}

/// <summary>
/// What an instrument can play and which sound answers for it. Data, not behaviour: the catalogue is a file that a musician can
/// add to.
/// </summary>
public sealed record Instrument
{
    /// <summary>The name a chart uses.</summary>
    public required string Name { get; init; }

    /// <summary>How it is sounded.</summary>
    public required Technique Technique { get; init; }

    /// <summary>Lowest MIDI key.</summary>
    public required int Lowest { get; init; }

    /// <summary>Highest MIDI key.</summary>
    public required int Highest { get; init; }

    /// <summary>Open strings or courses as MIDI keys, in the order they lie; empty when it has none.</summary>
    public IReadOnlyList<int> Strings { get; init; } = [];

    /// <summary>Highest fret of a fretted or stopped string.</summary>
    public int Frets { get; init; } = 15;

    /// <summary>The first string is a short drone that lies above its neighbours and belongs to the thumb.</summary>
    public bool ShortDrone { get; init; }

    /// <summary>The shortest time between two notes that the hand can keep up, in milliseconds.</summary>
    public int HandLimitMs { get; init; } = 85;

    /// <summary>How many neighbouring frets its hand covers in a chord, first and last counted.</summary>
    public int Stretch { get; init; } = 5;

    /// <summary>The MIDI key below which its chords have no thirds or closer.</summary>
    public int LowIntervalLimit { get; init; } = Harmony.Voicings.LowIntervalLimit;

    /// <summary>Most notes at once.</summary>
    public int Voices { get; init; } = 4;

    /// <summary>General MIDI program of its sound, 0-127 on the wire.</summary>
    public required int Program { get; init; }

    /// <summary>Program of its damped sound; null when damping only shortens the note.</summary>
    public int? DampedProgram { get; init; }

    /// <summary>True for percussion: keys are sounds of the drum kit, not pitches.</summary>
    public bool Unpitched => Technique == Technique.Click;

    /// <summary>True when a note can be held at its loudness.</summary>
    public bool Holds => Technique is Technique.Bow or Technique.Reed or Technique.Breath;
}
