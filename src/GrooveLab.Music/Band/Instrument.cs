using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
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
    private const int MiddleC = 60;

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

    /// <summary>The clefs in which its music is written, one for each of its staves, the upper first: one or two. Empty to take the clef that suits its
    /// range; see <see cref="Staves"/>.</summary>
    public IReadOnlyList<StaffClef> Clefs { get; init; } = [];

    /// <summary>The pitch that sounds for a written C4; C4 for an instrument that sounds as written.</summary>
    public Pitch WrittenC { get; init; } = new(new PitchName(NoteLetter.C), 4);

    /// <summary>The clefs of its staves, the upper first: those that it names; otherwise the percussion clef, the treble clef from a middle of its
    /// range around middle C on, else the bass clef.</summary>
    public IReadOnlyList<StaffClef> Staves => Clefs.Count > 0 ? Clefs
        : Unpitched ? [StaffClef.Percussion]
        : (Lowest + Highest) / 2 >= MiddleC ? [StaffClef.Treble]
        : [StaffClef.Bass];

    /// <summary>True for percussion: keys are sounds of the drum kit, not pitches.</summary>
    public bool Unpitched => Technique == Technique.Click;

    /// <summary>True when a note can be held at constant loudness.</summary>
    public bool Holds => Technique is Technique.Bow or Technique.Reed or Technique.Breath;
}
