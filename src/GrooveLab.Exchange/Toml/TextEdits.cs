using System.Text;

namespace GrooveLab.Exchange.Toml;

/// <summary>
/// Changes of a text, collected at places of the text as it is and made all at once, in one pass. Not a text that can be read in between.
/// </summary>
/// <param name="text">The text as it is.</param>
internal sealed class TextEdits(string text)
{
    private readonly List<Edit> _edits = [];
    private Edit[] _sorted = [];

    /// <summary>True when nothing was changed.</summary>
    public bool IsEmpty => _edits.Count == 0;

    /// <summary>Puts another text in the place of a stretch.</summary>
    public void Replace(int start, int end, string with)
    {
        if (with.Length > 0 || end > start)
        {
            Add(start, end, with, Kind.Plain);
        }
    }

    /// <summary>Puts a text before what starts at a place.</summary>
    public void InsertBefore(int place, string what) => Replace(place, place, what);

    /// <summary>Puts a text behind what ends at a place; it goes along when that is moved.</summary>
    public void InsertBehind(int place, string what) => Add(place, place, what, Kind.Behind);

    /// <summary>Puts a text between what ends and what starts at a place; it stays there when one of the two is moved.</summary>
    public void InsertBetween(int place, string what) => Add(place, place, what, Kind.Between);

    /// <summary>Takes a stretch away because it is put elsewhere by <see cref="InsertCopy"/>, with the changes made in it.</summary>
    public void RemoveMoved(int start, int end) => Add(start, end, string.Empty, Kind.Moved);

    /// <summary>Puts a stretch of the text, with the changes made in it, between what ends and what starts at a place.</summary>
    public void InsertCopy(int place, int start, int end) =>
        _edits.Add(new Edit(place, place, string.Empty, (start, end), Kind.Between, _edits.Count));

    /// <summary>The text with all changes made.</summary>
    /// <exception cref="InvalidOperationException">Two changes overlap.</exception>
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
                throw new InvalidOperationException($"Two changes of the text overlap at {edit.Start}.");
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

    // What stands at the border of a stretch that is written elsewhere belongs to it or to its neighbour.
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
