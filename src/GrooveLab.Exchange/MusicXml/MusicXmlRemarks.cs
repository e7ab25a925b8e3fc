using System.Globalization;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>A fault of one element, which is then left out; the score is refused, but reading continues to find further faults.</summary>
internal sealed class MusicXmlFault(int line, string what, string remedy = "") : Exception(what)
{
    public int Line { get; } = line;

    public string Remedy { get; } = remedy;
}

/// <summary>A fault that ends reading.</summary>
internal sealed class MusicXmlRefusal(int? line, string what, string remedy = "") : Exception(what)
{
    public int? Line { get; } = line;

    public string Remedy { get; } = remedy;

    /// <summary>The place in terms of the format, such as "byte 120"; null for the one that is being read.</summary>
    public string? Path { get; init; }

    /// <summary>A refusal of what stands at a byte of an archive.</summary>
    public static MusicXmlRefusal AtByte(long offset, string what, string remedy = "") =>
        new(null, what, remedy) { Path = string.Create(CultureInfo.InvariantCulture, $"byte {offset}") };
}

/// <summary>Collects errors, warnings and what was not carried; warnings and losses once per kind with their number and first place.</summary>
internal sealed class MusicXmlRemarks(string file)
{
    private readonly List<ScoreRemark> _errors = [];
    private readonly Dictionary<string, Counted> _warnings = new(StringComparer.Ordinal);
    private readonly Dictionary<string, Counted> _losses = new(StringComparer.Ordinal);

    private sealed class Counted(Origin place, string what, string remedy)
    {
        public int Count { get; set; } = 1;

        public ScoreRemark Remark => new(place, Count == 1 ? what : string.Create(CultureInfo.InvariantCulture, $"{what} ({Count} times, first here)"), remedy);
    }

    /// <summary>The place in the score that is being read, such as "part P1, measure 12"; null outside the music.</summary>
    public string? Path { get; set; }

    public bool HasErrors => _errors.Count > 0;

    public bool IsFull => _errors.Count >= MusicXmlLimits.MostRemarks;

    public IReadOnlyList<ScoreRemark> Errors => IsFull
        ? [.. _errors, new ScoreRemark(_errors[^1].Place, "too many errors", "the rest of the file was not read")]
        : _errors;

    public IReadOnlyList<ScoreRemark> Warnings => Sorted(_warnings);

    public IReadOnlyList<ScoreRemark> NotCarried => Sorted(_losses);

    public Origin At(int? line) => new(file, line, Path);

    /// <exception cref="MusicXmlRefusal">There are too many.</exception>
    public void Error(int? line, string what, string remedy = "")
    {
        if (!IsFull)
        {
            _errors.Add(new ScoreRemark(At(line), what, remedy));
        }
    }

    public void Warn(int? line, string what, string remedy = "") => Count(_warnings, line, what, remedy);

    /// <summary>Something that the model does not hold; listed once per kind.</summary>
    public void Loss(int? line, string kind) => Count(_losses, line, kind, "");

    private static ScoreRemark[] Sorted(Dictionary<string, Counted> remarks) =>
        [.. remarks.Values.Select(one => one.Remark).OrderBy(remark => remark.Place.Line ?? 0)];

    private void Count(Dictionary<string, Counted> remarks, int? line, string what, string remedy)
    {
        if (remarks.TryGetValue(what, out var known))
        {
            known.Count++;
        }
        else if (remarks.Count < MusicXmlLimits.MostRemarks - 1)
        {
            remarks.Add(what, new Counted(At(line), what, remedy));
        }
        else if (remarks.TryGetValue("others", out var others))
        {
            others.Count++;
        }
        else
        {
            remarks.Add("others", new Counted(At(line), "others", ""));
        }
    }
}
