namespace GrooveLab.Music.Harmony;

/// <summary>The structure of a chord apart from its root: for each degree a bit set of its alterations. The parser writes it and the
/// symbol reads it; different spellings of one chord give the same structure.</summary>
internal sealed class ChordBuild
{
    private static readonly ChordDegree[] Order =
    [
        ChordDegree.Root, ChordDegree.Second, ChordDegree.Third, ChordDegree.Fourth, ChordDegree.Fifth, ChordDegree.Sixth, ChordDegree.Seventh,
        ChordDegree.Ninth, ChordDegree.Eleventh, ChordDegree.Thirteenth,
    ];

    // Bit (alteration + 2) of a degree's entry is set when the chord contains that tone.
    private readonly int[] _tones = new int[14];

    public void Add(ChordDegree degree, int alteration = 0) => _tones[(int)degree] |= Bit(alteration);

    public void Remove(ChordDegree degree) => _tones[(int)degree] = 0;

    public void Remove(ChordDegree degree, int alteration) => _tones[(int)degree] &= ~Bit(alteration);

    public bool Has(ChordDegree degree) => _tones[(int)degree] != 0;

    public bool Has(ChordDegree degree, int alteration) => (_tones[(int)degree] & Bit(alteration)) != 0;

    public bool HasOnly(ChordDegree degree, int alteration) => _tones[(int)degree] == Bit(alteration);

    public IEnumerable<(ChordDegree Degree, int Alteration)> Tones()
    {
        foreach (var degree in Order)
        {
            for (var alteration = -2; alteration <= 1; alteration++)
            {
                if (Has(degree, alteration))
                    yield return (degree, alteration);
            }
        }
    }

    public string CanonicalSuffix()
    {
        var minor = Has(ChordDegree.Third, -1);
        var suspended = Has(ChordDegree.Second) || Has(ChordDegree.Fourth);
        var sixth = Has(ChordDegree.Sixth);
        var seventh = Has(ChordDegree.Seventh);
        var diminishedSeventh = Has(ChordDegree.Seventh, -2);
        var majorSeventh = Has(ChordDegree.Seventh, 0);
        var plainTriad = !seventh && !sixth;

        var diminished = diminishedSeventh || (minor && plainTriad && HasOnly(ChordDegree.Fifth, -1));
        var augmented = Has(ChordDegree.Third, 0) && plainTriad && HasOnly(ChordDegree.Fifth, 1);
        var power = plainTriad && !Has(ChordDegree.Third) && !suspended && HasOnly(ChordDegree.Fifth, 0);

        var covered = new ChordBuild();
        var number = Number(covered, minor, suspended, sixth, seventh);
        var stem = (diminished, augmented, power, minor) switch
        {
            (true, _, _, _) => "dim" + number,
            (_, true, _, _) => "aug",
            (_, _, true, _) => "5",
            (_, _, _, true) => majorSeventh ? $"m(maj{number})" : "m" + number,
            _ => majorSeventh ? "maj" + number : number,
        };
        if (Has(ChordDegree.Second))
            stem += Has(ChordDegree.Fourth) ? "sus24" : "sus2";
        else if (Has(ChordDegree.Fourth))
            stem += "sus4";

        var extras = new List<string>();
        AddFifths(extras, diminished ? -1 : augmented ? 1 : 0);
        AddTensions(extras, covered, seventh || sixth);
        var thirdIsMissing = !Has(ChordDegree.Third) && !suspended && !power && (diminished || number is not "11");
        if (thirdIsMissing)
            extras.Add("no3");
        return stem + Join(stem, extras);
    }

    // The greatest number whose natural tones the chord contains or alters; `covered` gets the natural tones that it implies.
    private string Number(ChordBuild covered, bool minor, bool suspended, bool sixth, bool seventh)
    {
        var naturalNinth = HasOnly(ChordDegree.Ninth, 0);
        if (!seventh)
        {
            if (!sixth)
                return "";
            if (!naturalNinth)
                return "6";
            covered.Add(ChordDegree.Ninth);
            return "6/9";
        }

        if (Has(ChordDegree.Ninth) && HasOnly(ChordDegree.Thirteenth, 0))
        {
            covered.Add(ChordDegree.Thirteenth);
            if (naturalNinth)
                covered.Add(ChordDegree.Ninth);
            return "13";
        }

        var thirdAllowsEleventh = minor || (!suspended && !Has(ChordDegree.Third));
        if (Has(ChordDegree.Ninth) && HasOnly(ChordDegree.Eleventh, 0) && thirdAllowsEleventh)
        {
            covered.Add(ChordDegree.Eleventh);
            if (naturalNinth)
                covered.Add(ChordDegree.Ninth);
            return "11";
        }

        if (!naturalNinth)
            return "7";
        covered.Add(ChordDegree.Ninth);
        return "9";
    }

    private void AddFifths(List<string> extras, int implied)
    {
        if (!Has(ChordDegree.Fifth))
        {
            extras.Add("no5");
            return;
        }

        if (implied != -1 && Has(ChordDegree.Fifth, -1))
            extras.Add("b5");
        if (implied != 1 && Has(ChordDegree.Fifth, 1))
            extras.Add("#5");
    }

    private void AddTensions(List<string> extras, ChordBuild covered, bool onFourTones)
    {
        // Many read a lone "b9" after a triad as a dominant; "add" makes it unambiguous.
        var altered = onFourTones ? "" : "add";
        foreach (var degree in (ReadOnlySpan<ChordDegree>)[ChordDegree.Ninth, ChordDegree.Eleventh, ChordDegree.Thirteenth])
        {
            for (var alteration = -1; alteration <= 1; alteration++)
            {
                if (!Has(degree, alteration) || covered.Has(degree, alteration))
                    continue;
                extras.Add((alteration == 0 ? "add" : altered) + (alteration < 0 ? "b" : alteration > 0 ? "#" : "") + (int)degree);
            }
        }
    }

    private static string Join(string stem, List<string> extras) => extras switch
    {
        [] => "",
        [var only] when only[0] is 'a' or 'n' || (stem.Length > 0 && char.IsAsciiDigit(stem[^1])) => only,
        _ => $"({string.Join(',', extras)})",
    };

    private static int Bit(int alteration) => 1 << (alteration + 2);
}
