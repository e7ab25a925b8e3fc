using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Harmony;

/// <summary>A spelled pitch class: a letter with its accidental, such as F sharp or B flat. It has no octave (see <see cref="Pitch"/>). F
/// sharp and G flat differ although both are pitch class 6. Compared by spelling; has no order.</summary>
public readonly record struct PitchName
{
    /// <summary>Maximum number of sharps or flats: three, needed only by inner tones of oddly spelled chords.</summary>
    public const int MaxAccidental = 3;

    private static ReadOnlySpan<int> LetterFifths => [0, 2, 4, -1, 1, 3, 5];

    private static ReadOnlySpan<NoteLetter> LettersByFifth =>
        [NoteLetter.F, NoteLetter.C, NoteLetter.G, NoteLetter.D, NoteLetter.A, NoteLetter.E, NoteLetter.B];

    /// <summary>Creates a pitch name.</summary>
    /// <param name="letter">The letter.</param>
    /// <param name="accidental">Sharps (positive) or flats (negative), -3 to 3.</param>
    /// <exception cref="ArgumentOutOfRangeException">Not one of the seven letters, or more than three accidentals.</exception>
    public PitchName(NoteLetter letter, int accidental = 0)
    {
        if (letter is < NoteLetter.C or > NoteLetter.B)
            throw new ArgumentOutOfRangeException(nameof(letter), letter, "The letter must be A to G.");
        if (accidental is < -MaxAccidental or > MaxAccidental)
            throw new ArgumentOutOfRangeException(nameof(accidental), accidental, "A pitch name has at most three sharps or flats.");
        Letter = letter;
        Accidental = accidental;
    }

    /// <summary>The letter.</summary>
    public NoteLetter Letter { get; }

    /// <summary>Sharps (positive) or flats (negative), -3 to 3.</summary>
    public int Accidental { get; }

    /// <summary>The pitch class, 0 for C (or B sharp) to 11 for B: the sound without the spelling.</summary>
    public int PitchClass => Modulo(Interval.SemitonesOfMajorScale((int)Letter) + Accidental, 12);

    /// <summary>The position on the line of fifths: C is 0, G 1, F -1, F sharp 6, B flat -2.</summary>
    public int Fifths => LetterFifths[(int)Letter] + (7 * Accidental);

    /// <summary>The name at a position on the line of fifths.</summary>
    /// <param name="fifths">C is 0; from F with three flats (-22) to B with three sharps (26).</param>
    /// <exception cref="ArgumentOutOfRangeException">The name would need more than three accidentals.</exception>
    public static PitchName FromFifths(int fifths)
    {
        var accidental = (int)Math.Floor((fifths + 1) / 7.0);
        return new PitchName(LettersByFifth[fifths + 1 - (7 * accidental)], accidental);
    }

    /// <summary>The simplest name of a pitch class: a natural if possible, else one sharp or one flat.</summary>
    /// <param name="pitchClass">Any number; counted modulo 12 from C.</param>
    /// <param name="flats">True for flats instead of sharps on the black keys.</param>
    public static PitchName FromPitchClass(int pitchClass, bool flats = false)
    {
        var pc = Modulo(pitchClass, 12);
        // F to B naturals are at -1..5; five sharps continue to 10, five flats go down to -6.
        var fifths = Modulo(pc * 7, 12);
        if (fifths == 11 || fifths > 5 && flats)
            fifths -= 12;
        return FromFifths(fifths);
    }

    /// <summary>The name an interval away, spelled by the interval: an augmented fourth above C is F sharp, a diminished fifth G flat. If
    /// that needs more than three accidentals, the simplest name of the same pitch class.</summary>
    public PitchName Transpose(Interval interval)
    {
        var index = (int)Letter + interval.Steps;
        var accidental = Interval.SemitonesOfMajorScale((int)Letter) + Accidental + interval.Semitones - Interval.SemitonesOfMajorScale(index);
        return accidental is >= -MaxAccidental and <= MaxAccidental
            ? new PitchName((NoteLetter)Modulo(index, 7), accidental)
            : FromPitchClass(PitchClass + interval.Semitones, accidental < 0);
    }

    /// <summary>The same pitch class with at most one accidental: flats stay flats, sharps stay sharps; a name with no more than one is
    /// unchanged.</summary>
    public PitchName Simplified() => Accidental is >= -1 and <= 1 ? this : FromPitchClass(PitchClass, Accidental < 0);

    /// <summary>Reads a name: a capital letter A to G and up to two accidentals (#, b, ##, x, bb, or the signs ♯ ♭ 𝄪 𝄫), and nothing
    /// after them.</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out PitchName name)
    {
        name = default;
        if (text is null || text.Length > 8)
            return false;
        var plain = Plain(text);
        return TryRead(plain, out name, out var length) && length == plain.Length;
    }

    /// <summary>Reads a name; see <see cref="TryParse"/>.</summary>
    /// <exception cref="FormatException">The text is not a pitch name.</exception>
    public static PitchName Parse(string text) => TryParse(text, out var name)
        ? name
        : throw new FormatException($"'{text}' is not a pitch name: write a capital letter A to G, then # or b if needed, such as F# or Bb.");

    /// <summary>The name in plain letters: "F#", "Bb", "Ebb".</summary>
    public override string ToString() => Letter + new string(Accidental < 0 ? 'b' : '#', Math.Abs(Accidental));

    /// <summary>The name with musical signs, as in print: "F♯", "B♭", "E♭♭". Each sign is one character cell wide.</summary>
    public string ToSigns() => Letter + new string(Accidental < 0 ? '♭' : '♯', Math.Abs(Accidental));

    /// <summary>Replaces musical accidental signs with # and b; keeps the rest.</summary>
    internal static string Plain(string text) =>
        text.Replace('♯', '#').Replace('♭', 'b').Replace("𝄪", "##").Replace("𝄫", "bb");

    /// <summary>Reads a name at the start of plain text, including all accidentals that can belong to it.</summary>
    internal static bool TryRead(ReadOnlySpan<char> text, out PitchName name, out int length)
    {
        name = default;
        length = 0;
        if (text.IsEmpty || text[0] is < 'A' or > 'G')
            return false;
        var letter = (NoteLetter)((text[0] - 'A' + 5) % 7);
        length = 1;
        var accidental = 0;
        if (length < text.Length && text[length] == 'x')
        {
            accidental = 2;
            length++;
        }
        else if (length < text.Length && text[length] is '#' or 'b')
        {
            var sign = text[length];
            while (length < text.Length && text[length] == sign && length <= 2)
                length++;
            accidental = sign == '#' ? length - 1 : 1 - length;
        }

        name = new PitchName(letter, accidental);
        return true;
    }

    internal static int Modulo(int value, int modulus)
    {
        var rest = value % modulus;
        return rest < 0 ? rest + modulus : rest;
    }
}
