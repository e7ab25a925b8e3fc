using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Harmony;

/// <summary>A spelled interval: a number of letters and a number of semitones. An augmented fourth and a diminished fifth are different
/// intervals. Falling intervals have negative steps and semitones.</summary>
/// <param name="Steps">Letters moved: 0 unison, 1 second, 2 third, 7 octave; negative downwards.</param>
/// <param name="Semitones">Semitones moved; negative downwards.</param>
public readonly record struct Interval(int Steps, int Semitones)
{
    private static ReadOnlySpan<int> NaturalSemitones => [0, 2, 4, 5, 7, 9, 11];

    /// <summary>The same pitch.</summary>
    public static Interval Unison => new(0, 0);

    /// <summary>One letter, one semitone.</summary>
    public static Interval MinorSecond => new(1, 1);

    /// <summary>One letter, two semitones.</summary>
    public static Interval MajorSecond => new(1, 2);

    /// <summary>Two letters, three semitones.</summary>
    public static Interval MinorThird => new(2, 3);

    /// <summary>Two letters, four semitones.</summary>
    public static Interval MajorThird => new(2, 4);

    /// <summary>Three letters, five semitones.</summary>
    public static Interval PerfectFourth => new(3, 5);

    /// <summary>Three letters, six semitones.</summary>
    public static Interval AugmentedFourth => new(3, 6);

    /// <summary>Four letters, six semitones.</summary>
    public static Interval DiminishedFifth => new(4, 6);

    /// <summary>Four letters, seven semitones.</summary>
    public static Interval PerfectFifth => new(4, 7);

    /// <summary>Five letters, eight semitones.</summary>
    public static Interval MinorSixth => new(5, 8);

    /// <summary>Five letters, nine semitones.</summary>
    public static Interval MajorSixth => new(5, 9);

    /// <summary>Six letters, ten semitones.</summary>
    public static Interval MinorSeventh => new(6, 10);

    /// <summary>Six letters, eleven semitones.</summary>
    public static Interval MajorSeventh => new(6, 11);

    /// <summary>Seven letters, twelve semitones.</summary>
    public static Interval Octave => new(7, 12);

    /// <summary>The interval from the tonic to a degree of the major scale, with an alteration.</summary>
    /// <param name="degree">1 for the tonic, 5 for the fifth, 9 for the ninth; at least 1.</param>
    /// <param name="alteration">Semitones up (positive) or down.</param>
    /// <exception cref="ArgumentOutOfRangeException">The degree is below 1.</exception>
    public static Interval FromDegree(int degree, int alteration = 0)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(degree, 1);
        var steps = degree - 1;
        return new Interval(steps, SemitonesOfMajorScale(steps) + alteration);
    }

    /// <summary>The interval from one pitch to another.</summary>
    public static Interval Between(Pitch from, Pitch to) =>
        new(to.LetterIndex - from.LetterIndex, to.Midi - from.Midi);

    /// <summary>The same interval in the opposite direction.</summary>
    public static Interval operator -(Interval interval) => new(-interval.Steps, -interval.Semitones);

    /// <summary>The sum of two intervals.</summary>
    public static Interval operator +(Interval left, Interval right) => new(left.Steps + right.Steps, left.Semitones + right.Semitones);

    /// <summary>The first interval minus the second.</summary>
    public static Interval operator -(Interval left, Interval right) => left + -right;

    /// <summary>Reads the usual short name: quality (P, M, m, A, d; AA and dd for doubly) and number, with a minus sign for falling:
    /// "P5", "m3", "A4", "-M2", "M9".</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out Interval interval)
    {
        interval = default;
        if (string.IsNullOrEmpty(text) || text.Length > 8)
            return false;
        var at = 0;
        var falling = text[0] == '-';
        if (falling)
            at++;
        var qualityAt = at;
        while (at < text.Length && text[at] is 'P' or 'M' or 'm' or 'A' or 'd')
            at++;
        var quality = text[qualityAt..at];
        if (!int.TryParse(text.AsSpan(at), System.Globalization.NumberStyles.None, null, out var number) || number is < 1 or > 99)
            return false;
        var steps = number - 1;
        var perfect = IsPerfect(steps);
        int? alteration = quality switch
        {
            "P" when perfect => 0,
            "M" when !perfect => 0,
            "m" when !perfect => -1,
            _ when quality.Length > 0 && quality.All(c => c == 'A') => quality.Length,
            _ when quality.Length > 0 && quality.All(c => c == 'd') => perfect ? -quality.Length : -quality.Length - 1,
            _ => null,
        };
        if (alteration is null)
            return false;
        interval = new Interval(steps, SemitonesOfMajorScale(steps) + alteration.Value);
        if (falling)
            interval = -interval;
        return true;
    }

    /// <summary>Reads an interval; see <see cref="TryParse"/>.</summary>
    /// <exception cref="FormatException">The text is not an interval.</exception>
    public static Interval Parse(string text) => TryParse(text, out var interval)
        ? interval
        : throw new FormatException($"'{text}' is not an interval: write P5, m3, M2, A4, d7, or -M2 for falling.");

    /// <summary>The usual short name, such as "P5", "m3" or "-M2".</summary>
    public override string ToString()
    {
        var falling = Steps < 0 || (Steps == 0 && Semitones < 0);
        var up = falling ? -this : this;
        var alteration = up.Semitones - SemitonesOfMajorScale(up.Steps);
        var perfect = IsPerfect(up.Steps);
        var quality = (perfect, alteration) switch
        {
            (true, 0) => "P",
            (false, 0) => "M",
            (false, -1) => "m",
            (_, > 0) => new string('A', alteration),
            (true, _) => new string('d', -alteration),
            (false, _) => new string('d', -alteration - 1),
        };
        return $"{(falling ? "-" : "")}{quality}{up.Steps + 1}";
    }

    internal static int SemitonesOfMajorScale(int steps)
    {
        var octave = (int)Math.Floor(steps / 7.0);
        return (12 * octave) + NaturalSemitones[steps - (7 * octave)];
    }

    private static bool IsPerfect(int steps) => (steps % 7) is 0 or 3 or 4;
}
