using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A written pitch: letter, alteration in semitones and octave, exact. Unlike <see cref="Pitch"/> it supports microtones; B
/// sharp 3 is not C4.</summary>
public readonly record struct SpelledPitch
{
    /// <summary>Maximum alteration of a letter, in semitones.</summary>
    public const int FurthestAlter = 4;

    /// <summary>Lowest octave of a letter.</summary>
    public const int LowestOctave = -2;

    /// <summary>Highest octave of a letter.</summary>
    public const int HighestOctave = 12;

    /// <summary>Creates a pitch.</summary>
    /// <param name="letter">The letter.</param>
    /// <param name="alter">Semitones up (sharp) or down (flat), -4 to 4; 1/2 is a quarter tone.</param>
    /// <param name="octave">The octave of the letter, -2 to 12; C4 is middle C.</param>
    /// <exception cref="ArgumentOutOfRangeException">A value is out of range.</exception>
    public SpelledPitch(NoteLetter letter, Rational alter, int octave)
    {
        if (letter is < NoteLetter.C or > NoteLetter.B)
        {
            throw new ArgumentOutOfRangeException(nameof(letter), letter, "The letter must be A to G.");
        }

        if (alter.Abs() > FurthestAlter)
        {
            throw new ArgumentOutOfRangeException(nameof(alter), alter, "The alteration must be -4 to 4 semitones.");
        }

        if (octave is < LowestOctave or > HighestOctave)
        {
            throw new ArgumentOutOfRangeException(nameof(octave), octave, "The octave must be -2 to 12.");
        }

        Letter = letter;
        Alter = alter;
        Octave = octave;
    }

    /// <summary>The letter.</summary>
    public NoteLetter Letter { get; }

    /// <summary>Semitones up or down, exact.</summary>
    public Rational Alter { get; }

    /// <summary>The octave of the letter; C4 is middle C.</summary>
    public int Octave { get; }

    /// <summary>The sounding pitch as a MIDI number: 60 for C4, 60 1/2 for C4 raised by a quarter tone.</summary>
    public Rational Sound => Alter + (12 * (Octave + 1)) + Interval.SemitonesOfMajorScale((int)Letter);

    /// <summary>The twelve-tone pitch; null for a microtone or more than three sharps or flats.</summary>
    public Pitch? Plain =>
        Alter.IsInteger && Alter.Abs() <= PitchName.MaxAccidental ? new Pitch(new PitchName(Letter, (int)Alter.Numerator), Octave) : null;

    /// <summary>The nearest twelve-tone pitch; quarter tones round up.</summary>
    public Pitch Nearest => Plain ?? Pitch.FromMidi((int)Sound.Round(), Alter.Sign < 0);

    /// <summary>Creates the written pitch of a twelve-tone pitch.</summary>
    public static SpelledPitch Of(Pitch pitch) => new(pitch.Name.Letter, pitch.Name.Accidental, pitch.Octave);

    /// <summary>The pitch an interval away, spelled by the interval; a microtone keeps its offset. An octave out of range becomes the nearest one.</summary>
    public SpelledPitch Transpose(Interval interval)
    {
        if (Plain is { } plain)
        {
            return InRange(plain.Transpose(interval));
        }

        // The fraction of a semitone, or what exceeds three accidentals, is kept.
        var whole = new PitchName(Letter, (int)Math.Clamp(Alter.Round(), -PitchName.MaxAccidental, PitchName.MaxAccidental));
        var moved = InRange(new Pitch(whole, Octave).Transpose(interval));
        return new SpelledPitch(moved.Letter, moved.Alter + (Alter - whole.Accidental), moved.Octave);
    }

    private static SpelledPitch InRange(Pitch pitch) => new(pitch.Name.Letter, pitch.Name.Accidental, Math.Clamp(pitch.Octave, LowestOctave, HighestOctave));

    /// <summary>"F#4", "Bb3", or "C(1/2)5" for a microtone.</summary>
    public override string ToString() => Plain?.ToString() ?? string.Create(CultureInfo.InvariantCulture, $"{Letter}({Alter}){Octave}");
}

/// <summary>A staff position, for unpitched notes and rests; not a pitch.</summary>
/// <param name="Letter">The letter of the line or space.</param>
/// <param name="Octave">Its octave.</param>
public readonly record struct StaffPosition(NoteLetter Letter, int Octave);
