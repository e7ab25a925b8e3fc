using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Harmony;

/// <summary>The mode of a key. Major and ionian share a scale, as do minor (natural) and aeolian; the name is kept as written.</summary>
public enum KeyMode
{
    /// <summary>Major.</summary>
    Major,

    /// <summary>Natural minor.</summary>
    Minor,

    /// <summary>Ionian: the scale of major.</summary>
    Ionian,

    /// <summary>Dorian: minor with a major sixth.</summary>
    Dorian,

    /// <summary>Phrygian: minor with a minor second.</summary>
    Phrygian,

    /// <summary>Lydian: major with an augmented fourth.</summary>
    Lydian,

    /// <summary>Mixolydian: major with a minor seventh.</summary>
    Mixolydian,

    /// <summary>Aeolian: the scale of natural minor.</summary>
    Aeolian,

    /// <summary>Locrian: minor with a minor second and a diminished fifth.</summary>
    Locrian,
}

/// <summary>A key: a spelled tonic and a mode, with at most seven sharps or flats in the signature. It spells its scale and the chromatic
/// tones, and transposes music to another key.</summary>
public sealed record Key
{
    private static readonly string[] ModeNames = [.. Enum.GetNames<KeyMode>().Select(name => name.ToLowerInvariant())];

    private readonly PitchName[] _chromatic = new PitchName[12];

    /// <summary>Creates a key.</summary>
    /// <exception cref="ArgumentException">The signature would need more than seven sharps or flats.</exception>
    public Key(PitchName tonic, KeyMode mode)
    {
        if (!IsWritable(tonic, mode))
            throw new ArgumentException(TooManyAccidentals(tonic, mode));
        Tonic = tonic;
        Mode = mode;
        // Chromatic tones: five fifths down to six up from the tonic, the usual harmonic chromatic scale.
        for (var fifths = tonic.Fifths - 5; fifths <= tonic.Fifths + 6; fifths++)
        {
            var name = PitchName.FromFifths(fifths);
            _chromatic[name.PitchClass] = name;
        }

        var scale = ImmutableArray.CreateBuilder<PitchName>(7);
        for (var step = 0; step < 7; step++)
        {
            // The seven names are adjacent on the line of fifths; each letter occurs once.
            var letter = (NoteLetter)(((int)tonic.Letter + step) % 7);
            for (var fifths = Fifths - 1; fifths <= Fifths + 5; fifths++)
            {
                var name = PitchName.FromFifths(fifths);
                if (name.Letter == letter)
                    scale.Add(name);
            }
        }

        Scale = scale.MoveToImmutable();
        foreach (var name in Scale)
        {
            _chromatic[name.PitchClass] = name;
            ScaleMask |= 1 << name.PitchClass;
        }
    }

    /// <summary>C major.</summary>
    public static Key CMajor { get; } = new(new PitchName(NoteLetter.C), KeyMode.Major);

    /// <summary>The spelled tonic.</summary>
    public PitchName Tonic { get; }

    /// <summary>The mode.</summary>
    public KeyMode Mode { get; }

    /// <summary>Sharps (positive) or flats (negative) in the signature, -7 to 7: D dorian has 0.</summary>
    public int Fifths => Tonic.Fifths + ModeFifths(Mode);

    /// <summary>The seven tones of the scale from the tonic up, spelled. Minor is natural minor.</summary>
    public ImmutableArray<PitchName> Scale { get; }

    /// <summary>The scale as twelve bits: bit n is set when pitch class n is in it.</summary>
    public int ScaleMask { get; }

    /// <summary>True when the third above the tonic is minor.</summary>
    public bool IsMinor => Mode is KeyMode.Minor or KeyMode.Dorian or KeyMode.Phrygian or KeyMode.Aeolian or KeyMode.Locrian;

    /// <summary>True when a pitch is in the scale.</summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    public bool Contains(int midi) => (ScaleMask >> PitchName.Modulo(midi, 12) & 1) != 0;

    /// <summary>The name of a pitch in this key: as in the scale, otherwise as in the harmonic chromatic scale on the tonic.</summary>
    /// <param name="midi">A MIDI number or pitch class.</param>
    public PitchName Spell(int midi) => _chromatic[PitchName.Modulo(midi, 12)];

    /// <summary>The pitch at a MIDI number, spelled in this key.</summary>
    public Pitch SpellPitch(int midi) => Pitch.AtMidi(Spell(midi), midi);

    /// <summary>The key of the same mode some semitones higher (negative: lower), with the fewest accidentals; between six sharps and six
    /// flats it keeps the direction of this key, but takes Eb, Bb, F and B rather than D#, A#, E# and Cb. Whole octaves keep the spelling.</summary>
    public Key Up(int semitones)
    {
        if (semitones % 12 == 0)
            return this;
        var pitchClass = PitchName.Modulo(Tonic.PitchClass + (semitones % 12), 12);
        Key? best = null;
        for (var fifths = -7; fifths <= 7; fifths++)
        {
            var tonic = PitchName.FromFifths(fifths - ModeFifths(Mode));
            if (tonic.PitchClass != pitchClass)
                continue;
            var closer = best is null || Math.Abs(fifths) < Math.Abs(best.Fifths);
            var tieGoesUp = best is not null && Math.Abs(fifths) == Math.Abs(best.Fifths)
                && (IsRare(best.Tonic) != IsRare(tonic) ? IsRare(best.Tonic) : Fifths >= 0);
            if (closer || tieGoesUp)
                best = new Key(tonic, Mode);
        }

        return best!;
    }

    // Tonics that musicians do not name if another spelling has as few accidentals. Common practice, no source.
    private static bool IsRare(PitchName tonic) => tonic.ToString() is "D#" or "A#" or "E#" or "Cb";

    /// <summary>The interval that transposes music from this key to <see cref="Up"/>: exactly these semitones, spelled for both
    /// keys.</summary>
    public Interval IntervalUp(int semitones)
    {
        var letters = PitchName.Modulo((int)Up(semitones).Tonic.Letter - (int)Tonic.Letter, 7);
        var octaves = (int)Math.Round(((semitones * 7 / 12.0) - letters) / 7.0);
        return new Interval(letters + (7 * octaves), semitones);
    }

    /// <summary>The interval that transposes music from this tonic to the tonic of another key, by the smaller one (five semitones down to
    /// six up), spelled for both. Ignores the modes: a tune in D dorian transposed to E minor moves up a major second and stays
    /// dorian.</summary>
    public Interval To(Key target)
    {
        var semitones = PitchName.Modulo(target.Tonic.PitchClass - Tonic.PitchClass, 12);
        if (semitones > 6)
            semitones -= 12;
        var letters = PitchName.Modulo((int)target.Tonic.Letter - (int)Tonic.Letter, 7);
        var octaves = (int)Math.Round(((semitones * 7 / 12.0) - letters) / 7.0);
        return new Interval(letters + (7 * octaves), semitones);
    }

    /// <summary>Reads a key: a tonic and a mode, such as "D dorian", "Bb", "F# minor", "Am", "E♭ major". Default mode: major; a lone m
    /// means minor.</summary>
    /// <param name="text">The text.</param>
    /// <param name="key">The key, if valid.</param>
    /// <param name="error">What is wrong and what is accepted, if not valid.</param>
    public static bool TryParse(string? text, [NotNullWhen(true)] out Key? key, [NotNullWhen(false)] out string? error)
    {
        key = null;
        var trimmed = (text ?? "").Trim();
        if (trimmed.Length is 0 or > 40 || !PitchName.TryRead(PitchName.Plain(trimmed), out var tonic, out var length))
        {
            var capital = trimmed.Length > 0 && char.IsAsciiLetterLower(trimmed[0]) && TryParse(char.ToUpperInvariant(trimmed[0]) + trimmed[1..], out _, out _)
                ? char.ToUpperInvariant(trimmed[0]) + trimmed[1..]
                : null;
            error = $"'{ChordSymbolParser.Quote(trimmed)}': {Words.Meant(capital)}a key starts with a capital letter A to G, then # or b if needed, then the mode, "
                + "such as D, Am, Bb major, F# minor or D dorian";
            return false;
        }

        var written = PitchName.Plain(trimmed)[length..].Trim();
        KeyMode? mode = written is "M" ? KeyMode.Major : written is "m" ? KeyMode.Minor : written.ToLowerInvariant() switch
        {
            "" or "major" or "maj" or "ma" => KeyMode.Major,
            "minor" or "min" or "mi" or "-" => KeyMode.Minor,
            "ionian" or "ion" => KeyMode.Ionian,
            "dorian" or "dor" => KeyMode.Dorian,
            "phrygian" or "phr" => KeyMode.Phrygian,
            "lydian" or "lyd" => KeyMode.Lydian,
            "mixolydian" or "mixo" or "mix" => KeyMode.Mixolydian,
            "aeolian" or "aeo" => KeyMode.Aeolian,
            "locrian" or "loc" => KeyMode.Locrian,
            _ => null,
        };
        if (mode is null)
        {
            error = $"'{ChordSymbolParser.Quote(trimmed)}': '{ChordSymbolParser.Quote(written)}' is not a mode; {Words.Meant(Words.Nearest(written, ModeNames))}accepted are major, minor, "
                + "dorian, phrygian, lydian, mixolydian, aeolian, locrian and ionian";
            return false;
        }

        if (!IsWritable(tonic, mode.Value))
        {
            error = $"'{ChordSymbolParser.Quote(trimmed)}': {TooManyAccidentals(tonic, mode.Value)}";
            return false;
        }

        key = new Key(tonic, mode.Value);
        error = null;
        return true;
    }

    /// <summary>Reads a key; see <see cref="TryParse"/>.</summary>
    /// <exception cref="FormatException">The text is not a key; the message says why.</exception>
    public static Key Parse(string text) => TryParse(text, out var key, out var error) ? key : throw new FormatException(error);

    /// <summary>True when two keys have the same spelled tonic and the same mode.</summary>
    public bool Equals(Key? other) => other is not null && Tonic == other.Tonic && Mode == other.Mode;

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Tonic, Mode);

    /// <summary>The tonic and the mode: "D dorian", "Bb major".</summary>
    public override string ToString() => $"{Tonic} {Mode.ToString().ToLowerInvariant()}";

    private static bool IsWritable(PitchName tonic, KeyMode mode) => tonic.Fifths + ModeFifths(mode) is >= -7 and <= 7;

    private static string TooManyAccidentals(PitchName tonic, KeyMode mode)
    {
        var fifths = tonic.Fifths + ModeFifths(mode);
        var fewer = fifths;
        while (Math.Abs(fewer) > 7)
            fewer += fewer < 0 ? 12 : -12;
        var plain = PitchName.FromFifths(fewer - ModeFifths(mode));
        return $"{tonic} {mode.ToString().ToLowerInvariant()} would need {Math.Abs(fifths)} {(fifths < 0 ? "flats" : "sharps")}; a key has at "
            + $"most seven, so write {plain} {mode.ToString().ToLowerInvariant()}";
    }

    internal static int ModeFifths(KeyMode mode) => mode switch
    {
        KeyMode.Major or KeyMode.Ionian => 0,
        KeyMode.Lydian => 1,
        KeyMode.Mixolydian => -1,
        KeyMode.Dorian => -2,
        KeyMode.Minor or KeyMode.Aeolian => -3,
        KeyMode.Phrygian => -4,
        KeyMode.Locrian => -5,
        _ => throw new ArgumentOutOfRangeException(nameof(mode), mode, "Not a mode."),
    };
}
