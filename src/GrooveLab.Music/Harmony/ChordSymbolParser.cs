using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text;

namespace GrooveLab.Music.Harmony;

/// <summary>Reads chord symbols. One pass over the suffix collects its elements; the tones are then built from them.</summary>
internal sealed class ChordSymbolParser
{
    private const int LongestSymbol = 60;

    private const string Accepted = "accepted are m, maj, dim, aug, sus2, sus4, 5, 6, 7, 9, 11, 13, add9, changes such as b9 or #11, alt, no3, "
        + "no5, and a bass after a slash";

    // Longer words first, so that "major" is not read as "ma".
    private static readonly string[] MajorWords = ["major", "Major", "MAJOR", "maj", "Maj", "MAJ", "ma", "Ma", "MA", "M", "^"];
    private static readonly string[] MinorWords = ["minor", "Minor", "MINOR", "min", "Min", "MIN", "mi", "Mi", "MI", "m"];
    private static readonly string[] DiminishedWords = ["dim", "Dim", "DIM", "o"];
    private static readonly string[] AugmentedWords = ["aug", "Aug", "AUG"];
    private static readonly string[] OmitWords = ["omit", "no"];

    // Words that start with an a and may follow M or m: there the a is not part of "ma".
    private static readonly string[] WordsAfterM = ["add", "alt", "aug"];

    private readonly string _plain;
    private readonly List<(ChordDegree Degree, int Alteration)> _altered = [];
    private readonly List<(ChordDegree Degree, int Alteration)> _added = [];
    private int _at;
    private int _depth;
    private bool _afterSlash;
    private bool _afterMajor;
    private bool _minor;
    private bool _major;
    private bool _diminished;
    private bool _halfDiminished;
    private bool _augmented;
    private bool _dominant;
    private bool _power;
    private bool _alt;
    private bool _second;
    private bool _fourth;
    private bool _noThird;
    private bool _noFifth;
    private bool _nothingSaid = true;
    private int _number;
    private string? _error;

    private ChordSymbolParser(string plain, int start)
    {
        _plain = plain;
        _at = start;
    }

    private bool HasQuality => _minor || _diminished || _halfDiminished || _augmented || _dominant || _alt || _power;

    private char Current => _at < _plain.Length ? _plain[_at] : '\0';

    public static bool TryParse(string? text, [NotNullWhen(true)] out ChordSymbol? chord, [NotNullWhen(false)] out string? error)
    {
        chord = null;
        var trimmed = (text ?? "").Trim();
        if (trimmed.Length == 0)
        {
            error = "a chord symbol is missing; write one such as Am7, F#m7b5, C/E, or N.C. for none";
            return false;
        }

        if (trimmed.Length > LongestSymbol)
        {
            error = $"'{Quote(trimmed)}': a chord symbol has at most {LongestSymbol} characters, such as Am7 or C7(b9,#11)";
            return false;
        }

        if (trimmed.ToUpperInvariant() is "N.C." or "N.C" or "NC" or "NC." or "N. C.")
        {
            chord = ChordSymbol.NoChord;
            error = null;
            return true;
        }

        var plain = Plain(trimmed);
        if (!PitchName.TryRead(plain, out var root, out var rootLength))
        {
            error = $"'{Quote(trimmed)}': a chord starts with a letter A to G, a capital (the note below C is B, not H), "
                + "then # or b if needed, then its kind, such as Am7, F#m7b5 or C/E; N.C. means no chord";
            return false;
        }

        var end = plain.Length;
        PitchName? bass = null;
        var slash = plain.LastIndexOf('/');
        if (slash >= rootLength && PitchName.TryParse(plain[(slash + 1)..].Trim(), out var bassName))
        {
            bass = bassName;
            end = slash;
        }

        var parser = new ChordSymbolParser(plain[..end], rootLength);
        if (!parser.ReadSuffix() || !parser.Check())
        {
            error = $"'{Quote(trimmed)}': {parser._error}";
            return false;
        }

        chord = new ChordSymbol(root, parser.Build(), bass, trimmed[rootLength..end].TrimEnd(), trimmed);
        error = null;
        return true;
    }

    /// <summary>Text for an error message: short, without control characters.</summary>
    internal static string Quote(string text)
    {
        var quoted = new StringBuilder();
        foreach (var rune in text.EnumerateRunes())
        {
            if (quoted.Length >= 24)
                return quoted.Append("...").ToString();
            if (Rune.IsControl(rune) || Rune.GetUnicodeCategory(rune) is UnicodeCategory.Format or UnicodeCategory.LineSeparator)
                quoted.Append('?');
            else
                quoted.Append(rune.ToString());
        }

        return quoted.ToString();
    }

    // Each sign is replaced by equally many plain characters, so that positions in the plain text match those in the written text.
    private static string Plain(string text)
    {
        var plain = PitchName.Plain(text).ToCharArray();
        for (var i = 0; i < plain.Length; i++)
        {
            plain[i] = plain[i] switch
            {
                'Δ' or '∆' or '△' => '^',
                '°' or 'º' or '˚' => 'o',
                'Ø' or '⌀' or 'Φ' or 'φ' => 'ø',
                '−' or '–' or '‐' or '‑' => '-',
                _ => plain[i],
            };
        }

        return new string(plain);
    }

    private bool ReadSuffix()
    {
        while (_at < _plain.Length)
        {
            if (!ReadOne())
                return false;
        }

        return _depth == 0 || Fail("a bracket is not closed; write the changes as in C7(b9,#11)");
    }

    private bool ReadOne()
    {
        var afterSlash = _afterSlash;
        var afterMajor = _afterMajor;
        switch (Current)
        {
            case ' ' or ',':
                _at++;
                return true;
            case '(':
                _at++;
                _depth++;
                return true;
            case ')':
                _at++;
                _depth--;
                return _depth >= 0 || Fail("a closing bracket has no opening bracket; write the changes as in C7(b9,#11)");
            case '/':
                return ReadSlash();
            default:
                break;
        }

        _afterSlash = false;
        _afterMajor = false;
        var read = ReadWord(afterMajor || afterSlash || _depth > 0, afterMajor);
        _nothingSaid = false;
        return read;
    }

    private bool ReadSlash()
    {
        _at++;
        while (Current == ' ')
            _at++;
        var next = Current is '#' or 'b' or '+' or '-' && _at + 1 < _plain.Length ? _plain[_at + 1] : Current;
        if (!char.IsAsciiDigit(next) && !StartsWithAny(MajorWords, out _))
            return Fail("write the bass note after the slash: a capital letter A to G with # or b if needed, as in C/E, D/F# or Gm7/F");
        _afterSlash = true;
        return true;
    }

    private bool ReadWord(bool enclosed, bool afterMajor)
    {
        if (char.IsAsciiDigit(Current))
            return ReadNumber(enclosed && !afterMajor);
        if (StartsWithAny(OmitWords, out var omit))
            return ReadOmission(omit);
        if (Starts("sus"))
            return ReadSuspension();
        if (Starts("add"))
            return ReadAddition();
        if (Starts("alt"))
        {
            _at += 3;
            if (HasQuality || _major || _number is not (0 or 7))
                return Fail("alt means an altered dominant seventh and cannot be combined, as in C7alt");
            _alt = true;
            _number = 7;
            return true;
        }

        if (Starts("dom"))
        {
            _at += 3;
            _dominant = !HasQuality && !_major && _number == 0;
            return _dominant || TwoKinds();
        }

        if (StartsWithAny(DiminishedWords, out var diminished))
            return ReadQuality(diminished.Length, ref _diminished);
        if (Current == 'ø')
            return ReadQuality(1, ref _halfDiminished);
        if (StartsWithAny(AugmentedWords, out var augmented))
            return ReadQuality(augmented.Length, ref _augmented);
        // First the words for minor that begin with M ("Min", "MI"), or M would be read as major.
        if (StartsWithAny(MinorWords, out var minor) && !StartsWithAny(MajorWords.AsSpan(0, 9), out _))
            return ReadQuality(minor.Length, ref _minor);
        if (StartsWithAny(MajorWords, out var major))
            return ReadMajor(major.Length);
        if (Current is '+' or '-' && _nothingSaid && _depth == 0 && !_afterSlash)
            return ReadLeadingSign();
        if (Current is '#' or 'b' or '+' or '-')
            return ReadAlteration();
        return NotUnderstood();
    }

    private bool ReadQuality(int length, ref bool quality)
    {
        if (HasQuality || _major || _number != 0)
            return TwoKinds();
        _at += length;
        quality = true;
        return true;
    }

    private bool ReadMajor(int length)
    {
        var follows = _at + length < _plain.Length ? _plain[_at + length] : '\0';
        // Some countries write a major seventh as "7M".
        var seventhBefore = _number == 7 && _at > 0 && _plain[_at - 1] == '7' && !char.IsAsciiDigit(follows);
        if (_major || _dominant || _halfDiminished || _alt || _power || (_number != 0 && !seventhBefore))
            return TwoKinds();
        _at += length;
        _major = true;
        _afterMajor = true;
        return true;
    }

    // Directly after the root + is augmented and - minor, but -5 and +5 change the fifth.
    private bool ReadLeadingSign()
    {
        var digits = DigitsAt(_at + 1);
        if (digits == "5")
            return ReadAlteration();
        if (Current == '-')
            return ReadQuality(1, ref _minor);
        return digits is "11" or "13"
            ? Fail($"'+{digits}' directly after the root is ambiguous; write 7#11, {digits}#5 or add{digits}")
            : ReadQuality(1, ref _augmented);
    }

    private bool ReadSuspension()
    {
        _at += 3;
        if (Current == '2')
        {
            _at++;
            _second = true;
            if (Current == '4')
            {
                _at++;
                _fourth = true;
            }
        }
        else
        {
            if (Current == '4')
                _at++;
            _fourth = true;
        }

        return true;
    }

    private bool ReadAddition()
    {
        _at += 3;
        while (Current is ' ' or '(')
        {
            _depth += Current == '(' ? 1 : 0;
            _at++;
        }

        var alteration = Sign();
        var digits = DigitsAt(_at);
        _at += digits.Length;
        (ChordDegree Degree, int Alteration)? tone = (digits, alteration) switch
        {
            ("2" or "9", _) => (ChordDegree.Ninth, alteration),
            ("4" or "11", 0 or 1) => (ChordDegree.Eleventh, alteration),
            ("6", 0) => (ChordDegree.Sixth, 0),
            ("13", 0) => (ChordDegree.Thirteenth, 0),
            ("6" or "13", -1) => (ChordDegree.Thirteenth, -1),
            _ => null,
        };
        if (tone is null)
            return Fail("write 2, 4, 6, 9, 11 or 13 after add, with b or # if needed, as in Cadd9 or C(add#11)");
        _added.Add(tone.Value);
        return true;
    }

    private bool ReadOmission(string word)
    {
        _at += word.Length;
        while (Current == ' ')
            _at++;
        if (Current == '3')
            _noThird = true;
        else if (Current == '5')
            _noFifth = true;
        else
            return Fail($"write 3 or 5 after {word}, as in C7{word}5");
        _at++;
        if (Starts("rd") || Starts("th"))
            _at += 2;
        return true;
    }

    private bool ReadAlteration()
    {
        var start = _at;
        var plus = Current == '+';
        var alteration = Sign();
        var digits = DigitsAt(_at);
        _at += digits.Length;
        (ChordDegree Degree, int Alteration)? tone = (digits, alteration) switch
        {
            ("5", _) => (ChordDegree.Fifth, alteration),
            // C7+ and Cm+ : a plus at the end raises the fifth.
            ("", 1) when plus && (_number != 0 || _minor) => (ChordDegree.Fifth, 1),
            ("9", _) => (ChordDegree.Ninth, alteration),
            ("4" or "11", 1) => (ChordDegree.Eleventh, 1),
            ("6" or "13", -1) => (ChordDegree.Thirteenth, -1),
            _ => null,
        };
        if (tone is not null)
        {
            _altered.Add(tone.Value);
            return true;
        }

        if (digits == "7" && alteration == 1 && _minor && _number == 0 && !_major)
        {
            _major = true;
            _number = 7;
            return true;
        }

        return Fail($"'{Quote(_plain[start.._at])}' is not a chord alteration; accepted are b5, #5, b9, #9, #11 and b13, as in C7(b9,#11)");
    }

    private bool ReadNumber(bool aside)
    {
        var digits = DigitsAt(_at);
        _at += digits.Length;
        if (_number == 0 && !_power)
        {
            switch (digits)
            {
                case "7":
                case "9" or "11" or "13" when !aside:
                    _number = int.Parse(digits, CultureInfo.InvariantCulture);
                    return true;
                case "6":
                    _number = 6;
                    return true;
                case "69":
                    _number = 6;
                    _added.Add((ChordDegree.Ninth, 0));
                    return true;
                case "5" when _nothingSaid && _depth == 0:
                    _power = true;
                    return true;
                case "2" when _nothingSaid && _depth == 0:
                    _added.Add((ChordDegree.Ninth, 0));
                    return true;
                case "5":
                    return Fail("5 alone means a power chord, as in C5; write an altered fifth as b5 or #5");
                case "2" or "4":
                    return Fail($"{digits} alone is ambiguous; write sus{digits} if it replaces the third, add{digits} if it is added");
                default:
                    break;
            }
        }

        switch (digits)
        {
            case "9":
                _added.Add((ChordDegree.Ninth, 0));
                return true;
            case "11":
                _added.Add((ChordDegree.Eleventh, 0));
                return true;
            case "13":
                _added.Add((ChordDegree.Thirteenth, 0));
                return true;
            case "6" when aside:
                _added.Add((ChordDegree.Sixth, 0));
                return true;
            default:
                return Fail($"unexpected number {Quote(digits)}; accepted are 5, 6, 69, 7, 9, 11 and 13 after the root, then "
                    + "changes such as b9 or #11");
        }
    }

    private bool Check()
    {
        if (_dominant && _number is not (7 or 9 or 11 or 13))
            return Fail("write 7, 9, 11 or 13 after dom, as in Cdom7");
        if (_halfDiminished && _number == 6)
            return Fail("a half-diminished chord has a seventh; write Cø, Cø7 or Cm7b5");
        return true;
    }

    private ChordBuild Build()
    {
        var build = new ChordBuild();
        build.Add(ChordDegree.Root);

        if (_second)
            build.Add(ChordDegree.Second);
        if (_fourth)
            build.Add(ChordDegree.Fourth);
        var suspended = _second || _fourth;
        if (!suspended && !_power && !_noThird)
            build.Add(ChordDegree.Third, _minor || _diminished || _halfDiminished ? -1 : 0);

        if (_diminished || _halfDiminished)
            build.Add(ChordDegree.Fifth, -1);
        if (_augmented || _alt)
            build.Add(ChordDegree.Fifth, 1);
        if (_alt)
            build.Add(ChordDegree.Ninth, 1);
        foreach (var (degree, alteration) in _altered)
            build.Add(degree, alteration);
        if (_noFifth)
            build.Remove(ChordDegree.Fifth);
        else if (!build.Has(ChordDegree.Fifth))
            build.Add(ChordDegree.Fifth);

        AddStack(build);
        foreach (var (degree, alteration) in _added)
        {
            // A sixth beside a seventh is heard and named as a thirteenth.
            build.Add(degree == ChordDegree.Sixth && build.Has(ChordDegree.Seventh) ? ChordDegree.Thirteenth : degree, alteration);
        }

        // Do not list the replacement of the third twice.
        if (_second)
            build.Remove(ChordDegree.Ninth, 0);
        if (_fourth)
            build.Remove(ChordDegree.Eleventh, 0);
        return build;
    }

    // The sixth, or stacked thirds up to the number; an altered tone replaces the natural one.
    private void AddStack(ChordBuild build)
    {
        if (_number == 6)
        {
            build.Add(ChordDegree.Sixth);
            return;
        }

        // maj(#11) implies the major seventh, and so does "major" in a minor, diminished or augmented chord.
        var seventhIsMeant = _major
            && (_minor || _diminished || _augmented || _altered.Exists(tone => tone.Degree != ChordDegree.Fifth));
        if (_number == 0 && !_halfDiminished && !seventhIsMeant)
            return;
        build.Add(ChordDegree.Seventh, _major ? 0 : _diminished ? -2 : -1);
        if (_number >= 9 && !build.Has(ChordDegree.Ninth))
            build.Add(ChordDegree.Ninth);
        if (_number == 13 && !build.Has(ChordDegree.Thirteenth))
            build.Add(ChordDegree.Thirteenth);
        if (_number == 11 && !build.Has(ChordDegree.Eleventh))
        {
            build.Add(ChordDegree.Eleventh);
            build.Remove(ChordDegree.Third, 0);
        }
    }

    // Reads # b + - and advances; 0 for none.
    private int Sign()
    {
        var sign = Current is '#' or '+' ? 1 : Current is 'b' or '-' ? -1 : 0;
        if (sign != 0)
            _at++;
        return sign;
    }

    private string DigitsAt(int start)
    {
        var end = start;
        while (end < _plain.Length && char.IsAsciiDigit(_plain[end]))
            end++;
        return start < end ? _plain[start..end] : "";
    }

    private bool Starts(string word) => string.CompareOrdinal(_plain, _at, word, 0, word.Length) == 0;

    private bool StartsWithAny(ReadOnlySpan<string> words, [NotNullWhen(true)] out string? found)
    {
        foreach (var word in words)
        {
            if (!Starts(word))
                continue;
            if (word is "ma" or "Ma" or "MA" && BelongsToNextWord(_at + 1))
                continue;
            found = word;
            return true;
        }

        found = null;
        return false;
    }

    private bool BelongsToNextWord(int start)
    {
        foreach (var word in WordsAfterM)
        {
            if (string.CompareOrdinal(_plain, start, word, 0, word.Length) == 0)
                return true;
        }

        return false;
    }

    private bool NotUnderstood() => Fail($"unexpected '{Quote(_plain[_at..])}' after '{Quote(_plain[.._at])}'; {Accepted}");

    private bool TwoKinds() =>
        Fail($"'{Quote(_plain[_at..])}' after '{Quote(_plain[.._at])}' contradicts the kind of chord; {Accepted}");

    private bool Fail(string error)
    {
        _error = error;
        return false;
    }
}
