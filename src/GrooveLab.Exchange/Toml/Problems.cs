namespace GrooveLab.Exchange.Toml;

/// <summary>Collects problems while a file is read.</summary>
internal sealed class Problems(SourceText source, string file)
{
    // A file of another kind would give thousands; more than this are useless.
    private const int Most = 200;
    private readonly List<(int Offset, string What, string Accepted)> _found = [];
    private readonly HashSet<(int Offset, string What)> _seen = [];

    /// <summary>The headers that the file may contain, for messages: "[keys] or [pedals]".</summary>
    public string Headers { get; init; } = "[[part]], [[section]], [section.tune] or [[section.line]]";

    /// <summary>Discarded problems, for a text that is not in a file.</summary>
    public static Problems Unread() => new(new SourceText(string.Empty), string.Empty);

    public int Count => _found.Count;

    public bool Full => _found.Count >= Most;

    public void Add(int offset, string what, string accepted)
    {
        if (!Full && _seen.Add((offset, what)))
        {
            _found.Add((offset, what, accepted));
        }
    }

    public IReadOnlyList<FileProblem> Sorted() =>
    [
        .. _found
            .OrderBy(found => found.Offset)
            .Select(found =>
            {
                var (line, column) = source.PlaceOf(found.Offset);
                return new FileProblem(file, line, column, OneLine(found.What), OneLine(found.Accepted));
            }),
    ];

    // Quotes from a file may contain anything; a problem is one line of plain text.
    private static string OneLine(string text) =>
        string.Concat(text.Select(c => char.IsControl(c) || c is '\u2028' or '\u2029' ? ' ' : c));
}
