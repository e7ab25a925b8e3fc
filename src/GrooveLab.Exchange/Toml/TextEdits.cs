using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>Edits of a text, collected at places of the original text and applied together in one pass. The edited text cannot be read in
/// between.</summary>
/// <param name="text">The original text.</param>
internal sealed class TextEdits(string text)
{
    private readonly List<Edit> _edits = [];
    private Edit[] _sorted = [];

    /// <summary>True when nothing was changed.</summary>
    public bool IsEmpty => _edits.Count == 0;

    /// <summary>Replaces a stretch by another text.</summary>
    public void Replace(int start, int end, string with)
    {
        if (with.Length > 0 || end > start)
        {
            Add(start, end, with, Kind.Plain);
        }
    }

    /// <summary>Inserts a text before what starts at a place.</summary>
    public void InsertBefore(int place, string what) => Replace(place, place, what);

    /// <summary>Inserts a text after what ends at a place; it moves along with that.</summary>
    public void InsertBehind(int place, string what) => Add(place, place, what, Kind.Behind);

    /// <summary>Inserts a text between what ends and what starts at a place; it stays there when either is moved.</summary>
    public void InsertBetween(int place, string what) => Add(place, place, what, Kind.Between);

    /// <summary>Removes a stretch that <see cref="InsertCopy"/> inserts elsewhere, including its edits.</summary>
    public void RemoveMoved(int start, int end) => Add(start, end, string.Empty, Kind.Moved);

    /// <summary>Inserts a stretch of the text, including its edits, between what ends and what starts at a place.</summary>
    public void InsertCopy(int place, int start, int end) =>
        _edits.Add(new Edit(place, place, string.Empty, (start, end), Kind.Between, _edits.Count));

    /// <summary>By how many characters a stretch of one line grows; null if it is replaced or moved as a whole, or gets another line.</summary>
    public int? Growth(int start, int end)
    {
        var growth = 0;
        foreach (var edit in _edits)
        {
            if (edit.Start < end && edit.End > start && (edit.Start < start || edit.End > end))
            {
                return null;
            }

            // Whole lines may be inserted at the start.
            if (edit.Start >= start && edit.End <= end && (edit.End > edit.Start || edit.Start > start))
            {
                if (edit.Kind == Kind.Moved || edit.Copy is not null || edit.With.Contains('\n', StringComparison.Ordinal))
                {
                    return null;
                }

                growth += edit.With.Length - (edit.End - edit.Start);
            }
        }

        return growth;
    }

    /// <summary>The text with all edits.</summary>
    /// <exception cref="InvalidOperationException">Two edits overlap.</exception>
    public string Apply()
    {
        _sorted =
        [
            .. _edits.OrderBy(edit => edit.Start).ThenBy(edit => edit.End > edit.Start).ThenByDescending(edit => edit.Kind == Kind.Behind)
                .ThenBy(edit => edit.Number),
        ];
        var result = new StringBuilder(text.Length + 256);
        Write(0, text.Length, result, whole: true);
        return result.ToString();
    }

    private void Write(int from, int to, StringBuilder result, bool whole)
    {
        var at = from;
        var moved = -1;
        for (var i = FirstAt(from); i < _sorted.Length && _sorted[i].Start <= to; i++)
        {
            var edit = _sorted[i];
            if (!whole && IsOutside(edit, from, to) || edit.Start < moved || (edit.Start == moved && edit.Kind == Kind.Behind))
            {
                continue;
            }

            if (edit.Start < at)
            {
                throw new InvalidOperationException($"Two edits overlap at {edit.Start}.");
            }

            result.Append(text, at, edit.Start - at).Append(edit.With);
            if (edit.Copy is { } copy)
            {
                Write(copy.Start, copy.End, result, whole: false);
            }

            moved = edit.Kind == Kind.Moved ? edit.End : moved;
            at = edit.End;
        }

        result.Append(text, at, to - at);
    }

    // An edit at the border of a moved stretch belongs to it or to its neighbour.
    private static bool IsOutside(Edit edit, int from, int to) =>
        (edit.Kind == Kind.Moved && edit.Start <= from && edit.End >= to)
        || (edit.Start == from && edit.Kind is Kind.Behind or Kind.Between)
        || (edit.Start == to && edit.Kind != Kind.Behind);

    private void Add(int start, int end, string with, Kind kind) => _edits.Add(new Edit(start, end, with, null, kind, _edits.Count));

    private int FirstAt(int place)
    {
        var low = 0;
        var high = _sorted.Length;
        while (low < high)
        {
            var middle = (low + high) / 2;
            (low, high) = _sorted[middle].Start < place ? (middle + 1, high) : (low, middle);
        }

        return low;
    }

    private enum Kind
    {
        Plain,
        Behind,
        Between,
        Moved,
    }

    private readonly record struct Edit(int Start, int End, string With, (int Start, int End)? Copy, Kind Kind, int Number);
}
