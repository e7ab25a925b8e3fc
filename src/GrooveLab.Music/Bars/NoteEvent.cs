using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Bars;

/// <summary>The direction of hand or bow.</summary>
public enum Stroke
{
    /// <summary>Not stated.</summary>
    None,

    /// <summary>Down.</summary>
    Down,

    /// <summary>Up.</summary>
    Up,

    /// <summary>The left hand's hammer.</summary>
    Left,

    /// <summary>The right hand's hammer.</summary>
    Right,
}

/// <summary>How a note sounds after its attack.</summary>
public enum Touch
{
    /// <summary>Rings.</summary>
    Open,

    /// <summary>Damped at once.</summary>
    Damped,
}

/// <summary>One note of one part as played. Immutable; its place is exact, including swing and laying back but not human feel, which is
/// separate in <see cref="OffsetMicroseconds"/>. <see cref="Written"/> describes it on paper.</summary>
public sealed record NoteEvent
{
    /// <summary>Index of the part in the band.</summary>
    public required int Part { get; init; }

    /// <summary>The part's role.</summary>
    public required Role Role { get; init; }

    /// <summary>The played place: from the bar line, less than the bar's length; negative only for the consonant of a vowel laid back
    /// over the bar line.</summary>
    public required Span Onset { get; init; }

    /// <summary>Its sounding length, above zero; may cross the bar line.</summary>
    public required Span Length { get; init; }

    /// <summary>MIDI key, 0-127: the pitch, or the drum sound when <see cref="Unpitched"/>.</summary>
    public required int Key { get; init; }

    /// <summary>True when the key names a sound of the drum kit.</summary>
    public bool Unpitched { get; init; }

    /// <summary>MIDI velocity, 1-127.</summary>
    public required int Velocity { get; init; }

    /// <summary>Human feel: delay in microseconds; negative is early. Includes <see cref="LeanMicroseconds"/>.</summary>
    public int OffsetMicroseconds { get; init; }

    /// <summary>The part of <see cref="OffsetMicroseconds"/> by which a part that lays back leans behind the beat, in microseconds; usually
    /// zero.</summary>
    public int LeanMicroseconds { get; init; }

    /// <summary>Spread of a strum: delay after the first string of the stroke, in microseconds; may be negative.</summary>
    public int SpreadMicroseconds { get; init; }

    /// <summary>Shift of the release, in microseconds, separate from the human feel of the onset: a legato overlap.</summary>
    public int OverlapMicroseconds { get; init; }

    /// <summary>Open or damped.</summary>
    public Touch Touch { get; init; }

    /// <summary>Direction of hand or bow.</summary>
    public Stroke Stroke { get; init; }

    /// <summary>String or course, 1 for the first in the instrument's list; 0 for none.</summary>
    public int String { get; init; }

    /// <summary>Plucking finger: "thumb", "index", "middle"; null when not stated.</summary>
    public string? Finger { get; init; }

    /// <summary>The syllable of the tune that starts on it, with a hyphen when the word continues; null for none, and in a further line.</summary>
    public string? Syllable { get; init; }

    /// <summary>The syllable that starts on it, in any line of the tune, with a hyphen when the word continues; null for none.</summary>
    public string? Sung => Written.Syllable is not { Note: 1, Syllable: var syllable } ? Syllable
        : syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? syllable.Text + "-" : syllable.Text;

    /// <summary>The note on paper.</summary>
    public required WrittenOrigin Written { get; init; }

    /// <summary>True for a grace note or a consonant's mark: it sounds before its place and ends there.</summary>
    public bool IsGrace => Written.Ornament is { IsBefore: true };

    /// <summary>The place where it ends, from the bar line.</summary>
    public Span End => Onset + Length;
}
