using System.Diagnostics.CodeAnalysis;

namespace GrooveLab.Music.Band;

/// <summary>The sign of a clef.</summary>
public enum ClefSign
{
    /// <summary>The G of the treble clef.</summary>
    G,

    /// <summary>The F of the bass clef.</summary>
    F,

    /// <summary>The C of the alto and tenor clefs.</summary>
    C,

    /// <summary>Two strokes: sounds without pitch.</summary>
    Percussion,
}

/// <summary>The clef of a staff.</summary>
/// <param name="Sign">Its sign.</param>
/// <param name="Line">The line on which the sign stands, from 1 for the lowest; 0 when the sign has no line, as that of percussion.</param>
/// <param name="Octaves">Octaves by which the notes sound higher than the plain clef says, -2 to 2: -1 for a clef with a small 8 below. Pitches in
/// a score are those that sound.</param>
public readonly record struct StaffClef(ClefSign Sign, int Line, int Octaves = 0)
{
    // Letter steps above C0 of the sign's own note: G4, F3, C4.
    private const int StepOfG = 32, StepOfF = 24, StepOfC = 28;

    // From the bottom line to the middle line of a staff.
    private const int MiddleLine = 3;

    private static readonly (string Name, StaffClef Clef)[] Named =
    [
        ("treble", Treble),
        ("treble 8vb", new StaffClef(ClefSign.G, 2, -1)),
        ("treble 8va", new StaffClef(ClefSign.G, 2, 1)),
        ("alto", new StaffClef(ClefSign.C, 3)),
        ("tenor", new StaffClef(ClefSign.C, 4)),
        ("bass", Bass),
        ("bass 8vb", new StaffClef(ClefSign.F, 4, -1)),
        ("percussion", Percussion),
    ];

    /// <summary>The treble clef.</summary>
    public static StaffClef Treble => new(ClefSign.G, 2);

    /// <summary>The bass clef.</summary>
    public static StaffClef Bass => new(ClefSign.F, 4);

    /// <summary>The clef of a staff without pitches.</summary>
    public static StaffClef Percussion => new(ClefSign.Percussion, 0);

    /// <summary>The names that <see cref="TryParse"/> reads.</summary>
    public static IReadOnlyList<string> Names => [.. Named.Select(named => named.Name)];

    /// <summary>The middle line of the staff, in letter steps above C0: 34 (B4) for the treble clef. That of percussion is the treble
    /// clef's.</summary>
    public int MiddleStep
    {
        get
        {
            var (step, line) = Sign switch
            {
                ClefSign.G => (StepOfG, Line),
                ClefSign.F => (StepOfF, Line),
                ClefSign.C => (StepOfC, Line),
                _ => (StepOfG, 2),
            };
            return step + (2 * (MiddleLine - line)) + (7 * Octaves);
        }
    }

    /// <summary>Reads "treble", "treble 8vb", "alto", "bass" and the others of <see cref="Names"/>; ignores case.</summary>
    public static bool TryParse([NotNullWhen(true)] string? text, out StaffClef clef)
    {
        foreach (var (name, named) in Named)
        {
            if (string.Equals(name, text?.Trim(), StringComparison.OrdinalIgnoreCase))
            {
                clef = named;
                return true;
            }
        }

        clef = default;
        return false;
    }

    /// <summary>"treble 8vb"; "G clef on line 1" for a clef without a name.</summary>
    public override string ToString()
    {
        foreach (var (name, named) in Named)
        {
            if (named == this)
            {
                return name;
            }
        }

        return string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Sign} clef on line {Line}");
    }
}
