using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Abc;

/// <summary>The key of an ABC tune: its signature and what each letter sounds as.</summary>
/// <param name="Written">The key signature.</param>
/// <param name="Alterations">The half steps by which the signature alters C, D, E, F, G, A, B.</param>
internal sealed record AbcKey(WrittenKey Written, IReadOnlyList<int> Alterations)
{
    /// <summary>Half steps by which the voice sounds higher than written (transpose=, octave=); null where the field does not say.</summary>
    public int? Transpose { get; init; }

    /// <summary>Octaves to add to the pitches as typed (octave=); null where the field does not say.</summary>
    public int? Octave { get; init; }
}

/// <summary>Reads the values of fields: M: L: Q: K: of ABC 2.1, section 3.1, from memory.</summary>
internal static partial class AbcFields
{
    /// <summary>A meter: "C", "C|", "6/8", "2+3/8", "(2+3+2)/8", "3/4+5/8", "none"; null if it is none of them.</summary>
    public static WrittenMeter? Meter(string text)
    {
        var plain = text.Replace(" ", "", StringComparison.Ordinal);
        switch (plain)
        {
            case "C":
                return new WrittenMeter(new MeterPair([4], 4)) { Symbol = "common" };
            case "C|":
                return new WrittenMeter(new MeterPair([2], 2)) { Symbol = "cut" };
            case "none" or "":
                return new WrittenMeter();
        }

        var pairs = new List<MeterPair>();
        foreach (Match match in MeterPart().Matches(plain))
        {
            var beats = match.Groups["beats"].Value.Trim('(', ')').Split('+', StringSplitOptions.RemoveEmptyEntries);
            if (!beats.All(beat => int.TryParse(beat, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number is >= 1 and <= 64)
                || !int.TryParse(match.Groups["type"].Value, NumberStyles.None, CultureInfo.InvariantCulture, out var type) || type is < 1 or > 64 || beats.Length == 0)
            {
                return null;
            }

            pairs.Add(new MeterPair([.. beats.Select(beat => int.Parse(beat, CultureInfo.InvariantCulture))], type));
        }

        return pairs.Count > 0 && string.Concat(MeterPart().Matches(plain).Select(match => match.Value)).Length == plain.Length ? new WrittenMeter([.. pairs]) : null;
    }

    /// <summary>A length such as 1/8 or 1; null if it is none.</summary>
    public static Span? Length(string text) =>
        LengthText().Match(text.Trim()) is { Success: true } match
        && int.TryParse(match.Groups["above"].Value, NumberStyles.None, CultureInfo.InvariantCulture, out var above) && above is >= 1 and <= 1024
        && int.TryParse(match.Groups["below"].Success ? match.Groups["below"].Value : "1", NumberStyles.None, CultureInfo.InvariantCulture, out var below) && below is >= 1 and <= 1024
            ? Span.Of(above, below)
            : null;

    /// <summary>A tempo: "1/4=120", "1/4 3/8=40", "120", "C=120", with a text in quotes; null if it is none of them.</summary>
    /// <param name="text">The value of Q:.</param>
    /// <param name="unit">The unit note length, for the old forms without one.</param>
    public static TempoSign? Tempo(string text, Span unit)
    {
        var words = Quoted().Matches(text).Select(match => match.Groups["text"].Value).ToList();
        var rest = Quoted().Replace(text, " ").Trim();
        if (rest.Length == 0)
        {
            return words.Count == 0 ? null : new TempoSign(Span.Zero) { Words = [.. words] };
        }

        var sides = rest.Split('=');
        if (sides.Length > 2 || !Rational.TryParse(sides[^1].Trim(), out var number) || number.Sign <= 0 || number > 10_000 || number.Denominator > 10_000)
        {
            return null;
        }

        var beats = new List<Span>();
        foreach (var beat in sides.Length == 1 ? [] : sides[0].Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            // "C=120" and "C3=120" are old forms that count unit notes.
            var length = beat.StartsWith('C') ? (beat.Length == 1 ? unit : Length(beat[1..]) is { } times ? unit * times.Wholes : (Span?)null) : Length(beat);
            if (length is not { } known)
            {
                return null;
            }

            beats.Add(known);
        }

        if (beats.Count == 0)
        {
            beats.Add(unit);
        }

        var sum = beats.Aggregate(Span.Zero, (total, beat) => total + beat);
        var quarters = sum.Wholes * 4 * number;
        var units = beats.Select(beat => NoteUnit.TryFrom(beat, out var value) ? value : (NoteUnit?)null).ToList();
        return new TempoSign(Span.Zero)
        {
            Words = [.. words],
            Metronomes = units.TrueForAll(value => value is not null)
                ? [new Metronome(new BeatUnit(units[0]!.Value, [.. units.Skip(1).Select(value => value!.Value)])) { PerMinute = Decimals.Of(number) }]
                : [],
            SoundQuarters = quarters,
        };
    }

    /// <summary>A key: "G", "Am", "D dorian", "F#mix", "D =c ^f", "D exp _b", "HP", "none"; null with the problem if it is none of them.</summary>
    public static AbcKey? Key(string text, out string? problem)
    {
        problem = null;
        var words = text.Split(' ', StringSplitOptions.RemoveEmptyEntries).ToList();
        int? transpose = null;
        int? octave = null;
        var tokens = new List<string>();
        foreach (var word in words)
        {
            if (word.Contains('=') && !word.StartsWith('='))
            {
                var sides = word.Split('=', 2);
                var isNumber = int.TryParse(sides[1], NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var number) && Math.Abs(number) <= 60;
                transpose = sides[0] is "transpose" or "t" && isNumber ? number : transpose;
                octave = sides[0] == "octave" && isNumber && Math.Abs(number) <= 4 ? number : octave;
            }
            else if (Clef(word, out var shift))
            {
                transpose ??= shift;
            }
            else
            {
                tokens.Add(word);
            }
        }

        AbcKey With(WrittenKey written, IReadOnlyList<int> alterations) => new(written, alterations) { Transpose = transpose, Octave = octave };
        if (tokens.Count == 0 || tokens[0] is "none")
        {
            return With(new WrittenKey(0, null), new int[7]);
        }

        // The pipes' scale: C and F sharp, G natural; HP shows no signature.
        if (tokens[0] is "HP" or "Hp")
        {
            return With(new WrittenKey(tokens[0] == "HP" ? 0 : 2, null), OfFifths(2));
        }

        var name = tokens[0];
        var at = 1;
        if (name[0] is < 'A' or > 'G')
        {
            problem = $"'{AbcTuneReader.Short(text)}' is not a key; write K:G, K:Am or K:D dor";
            return null;
        }

        if (at < name.Length && name[at] is '#' or 'b')
        {
            at++;
        }

        var mode = name[at..];
        var next = 1;
        if (mode.Length == 0 && tokens.Count > 1 && Mode(tokens[1]) is not null)
        {
            mode = tokens[1];
            next = 2;
        }

        if (Mode(mode) is not { } known || !Music.Harmony.Key.TryParse($"{name[..at]} {known}", out var key, out problem))
        {
            problem ??= $"'{AbcTuneReader.Short(mode)}' is not a mode; write maj, min, ion, dor, phr, lyd, mix, aeo or loc";
            return null;
        }

        var explicitOnly = next < tokens.Count && tokens[next] == "exp";
        var signs = tokens.Skip(explicitOnly ? next + 1 : next).ToList();
        var altered = explicitOnly ? new int[7] : OfFifths(key.Fifths);
        foreach (var sign in signs)
        {
            if (Accidental().Match(sign) is not { Success: true } match)
            {
                problem = $"'{AbcTuneReader.Short(sign)}' is not a sign of a key; write ^f, _b or =c";
                return null;
            }

            altered[LetterIndex(match.Groups["letter"].Value[0])] = Alter(match.Groups["sign"].Value);
        }

        if (signs.Count == 0 && !explicitOnly)
        {
            return With(WrittenKey.Of(key), altered);
        }

        // A signature of its own: the letters that are altered.
        return With(new WrittenKey([.. Enumerable.Range(0, 7).Where(letter => altered[letter] != 0).Select(letter => new KeyAccidental((NoteLetter)letter, altered[letter], null))]), altered);
    }

    /// <summary>The index of a letter: C is 0.</summary>
    public static int LetterIndex(char letter) => (char.ToUpperInvariant(letter) - 'C' + 7) % 7;

    /// <summary>The half steps of ^, ^^, =, _ and __.</summary>
    public static int Alter(string sign) => sign switch { "^" => 1, "^^" => 2, "_" => -1, "__" => -2, _ => 0 };

    private static string? Mode(string text) => (text.Length > 3 ? text[..3] : text).ToLowerInvariant() switch
    {
        "" or "maj" or "ion" => "major",
        "m" or "min" => "minor",
        "aeo" => "aeolian",
        "dor" => "dorian",
        "phr" => "phrygian",
        "lyd" => "lydian",
        "mix" => "mixolydian",
        "loc" => "locrian",
        _ => null,
    };

    // A clef; those with 8 sound an octave away from what is written.
    private static bool Clef(string word, out int? shift)
    {
        shift = word.EndsWith("-8", StringComparison.Ordinal) ? -12 : word.EndsWith("+8", StringComparison.Ordinal) ? 12 : null;
        var plain = word.Replace("-8", "", StringComparison.Ordinal).Replace("+8", "", StringComparison.Ordinal).TrimEnd('1', '2', '3', '4', '5');
        return plain is "treble" or "bass" or "alto" or "tenor" or "perc" or "soprano" or "mezzo" or "baritone" or "clef" or "P";
    }

    private static int[] OfFifths(int fifths)
    {
        // F C G D A E B, and back for flats.
        int[] order = [3, 0, 4, 1, 5, 2, 6];
        var result = new int[7];
        for (var i = 0; i < Math.Abs(fifths); i++)
        {
            result[fifths > 0 ? order[i % 7] : order[6 - (i % 7)]] += Math.Sign(fifths);
        }

        return result;
    }

    [GeneratedRegex(@"\+?(?<beats>\(?[0-9+]*[0-9]\)?)/(?<type>[0-9]+)", RegexOptions.NonBacktracking)]
    private static partial Regex MeterPart();

    [GeneratedRegex(@"^(?<above>[0-9]+)(?:/(?<below>[0-9]+))?$", RegexOptions.NonBacktracking)]
    private static partial Regex LengthText();

    [GeneratedRegex("\"(?<text>[^\"]*)\"", RegexOptions.NonBacktracking)]
    private static partial Regex Quoted();

    [GeneratedRegex("^(?<sign>\\^\\^|\\^|__|_|=)(?<letter>[A-Ga-g])$", RegexOptions.NonBacktracking)]
    private static partial Regex Accidental();
}
