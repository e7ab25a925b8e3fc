using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace GrooveLab.Music.Harmony;

/// <summary>A spelled pitch in its octave: C4 is middle C, MIDI 60. B sharp 3 and C4 sound the same but are different pitches; ordered by
/// sound, then by letter.</summary>
/// <param name="Name">The spelled pitch class.</param>
/// <param name="Octave">The octave of the letter, scientific numbering: C4 to B4 is the octave from middle C, and B#3 belongs to octave 3.</param>
public readonly record struct Pitch(PitchName Name, int Octave) : IComparable<Pitch>
{
    /// <summary>The frequency of A4 in hertz (ISO 16).</summary>
    public const double ConcertA = 440.0;

    /// <summary>The MIDI number: 60 for C4, 69 for A4. May be outside 0 to 127 for extreme octaves.</summary>
    public int Midi => (12 * (Octave + 1)) + Interval.SemitonesOfMajorScale((int)Name.Letter) + Name.Accidental;

    /// <summary>The frequency in hertz in twelve-tone equal temperament with A4 = 440 Hz (ISO 16).</summary>
    public double Frequency => FrequencyOf(Midi);

    internal int LetterIndex => (7 * Octave) + (int)Name.Letter;

    /// <summary>The frequency of a MIDI number in twelve-tone equal temperament.</summary>
    /// <param name="midi">The MIDI number; fractions are allowed, 0.01 is a cent.</param>
    /// <param name="concertA">The frequency of A4 in hertz; ISO 16: 440.</param>
    public static double FrequencyOf(double midi, double concertA = ConcertA) => concertA * Math.Pow(2, (midi - 69) / 12);

    /// <summary>The pitch of a MIDI number in its simplest spelling.</summary>
    /// <param name="midi">Any MIDI number.</param>
    /// <param name="flats">True for flats instead of sharps for the black keys; see <see cref="Key.Spell(int)"/> for spelling within a
    /// key.</param>
    public static Pitch FromMidi(int midi, bool flats = false) => AtMidi(PitchName.FromPitchClass(midi, flats), midi);

    /// <summary>The pitch with this name at a MIDI number.</summary>
    /// <exception cref="ArgumentException">The name does not match the MIDI number.</exception>
    public static Pitch AtMidi(PitchName name, int midi)
    {
        var octaves = midi - Interval.SemitonesOfMajorScale((int)name.Letter) - name.Accidental;
        return octaves % 12 == 0
            ? new Pitch(name, (octaves / 12) - 1)
            : throw new ArgumentException($"{name} does not sound at MIDI {midi}.");
    }

    /// <summary>The pitch an interval away, spelled by the interval; beyond three accidentals the simplest spelling.</summary>
    public Pitch Transpose(Interval interval) => AtMidi(Name.Transpose(interval), Midi + interval.Semitones);

    /// <summary>Reads a pitch: a name and its octave, such as "F#4", "Bb3", "E♭5", "C-1".</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out Pitch pitch)
    {
        pitch = default;
        if (text is null || text.Length > 12)
            return false;
        var plain = PitchName.Plain(text);
        if (!PitchName.TryRead(plain, out var name, out var length)
            || !int.TryParse(plain.AsSpan(length), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var octave)
            || octave is < -2 or > 12)
        {
            return false;
        }

        pitch = new Pitch(name, octave);
        return true;
    }

    /// <summary>Reads a pitch; see <see cref="TryParse"/>.</summary>
    /// <exception cref="FormatException">The text is not a pitch.</exception>
    public static Pitch Parse(string text) => TryParse(text, out var pitch)
        ? pitch
        : throw new FormatException($"'{text}' is not a pitch: write a letter, # or b if needed, and the octave, such as F#4 (C4 is middle C).");

    /// <inheritdoc/>
    public int CompareTo(Pitch other)
    {
        var bySound = Midi.CompareTo(other.Midi);
        return bySound != 0 ? bySound : LetterIndex.CompareTo(other.LetterIndex);
    }

    /// <summary>True when it sounds lower, or the same with a lower letter.</summary>
    public static bool operator <(Pitch left, Pitch right) => left.CompareTo(right) < 0;

    /// <summary>True when it sounds higher, or the same with a higher letter.</summary>
    public static bool operator >(Pitch left, Pitch right) => left.CompareTo(right) > 0;

    /// <summary>True when lower or equal.</summary>
    public static bool operator <=(Pitch left, Pitch right) => left.CompareTo(right) <= 0;

    /// <summary>True when higher or equal.</summary>
    public static bool operator >=(Pitch left, Pitch right) => left.CompareTo(right) >= 0;

    /// <summary>The name and the octave in plain letters: "F#4".</summary>
    public override string ToString() => Name.ToString() + Octave.ToString(CultureInfo.InvariantCulture);
}
