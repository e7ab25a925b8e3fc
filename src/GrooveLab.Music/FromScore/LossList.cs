using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.FromScore;

/// <summary>Collects what a chart lacks: each kind once, with its number and its measures.</summary>
internal sealed class LossList
{
    // More places than this would hide the other lines.
    private const int MostPlaces = 8;

    private readonly Dictionary<(string What, string Instead), Entry> _entries = [];

    /// <summary>Adds something that the chart lacks or has differently.</summary>
    /// <param name="what">What it is, in the singular: "fermata".</param>
    /// <param name="instead">What the chart has instead; empty for nothing.</param>
    /// <param name="measure">Its measure; null for the whole score.</param>
    /// <param name="place">Where it was read.</param>
    /// <param name="key">The written thing; repeated playings of it count once. Null to count every call.</param>
    public void Add(string what, string instead, Measure? measure, Origin? place, object? key = null)
    {
        if (!_entries.TryGetValue((what, instead), out var entry))
        {
            entry = new Entry(_entries.Count, place ?? measure?.Origin);
            _entries.Add((what, instead), entry);
        }

        if (key is not null && !entry.Seen.Add(key))
        {
            return;
        }

        entry.Count++;
        if (measure is not null && entry.Numbers.Add(measure.Number))
        {
            entry.Measures.Add(measure.Number);
        }
    }

    /// <summary>All of them, in the order in which they were found.</summary>
    public IReadOnlyList<NotCarried> Made() =>
        [.. _entries.OrderBy(pair => pair.Value.Order).Select(pair => new NotCarried(pair.Value.Place, Text(pair.Key.What, pair.Key.Instead, pair.Value)))];

    private static string Text(string what, string instead, Entry entry)
    {
        var text = entry.Measures.Count == 0
            ? entry.Count > 1 ? string.Create(CultureInfo.InvariantCulture, $"{what} ({entry.Count})") : what
            : string.Create(CultureInfo.InvariantCulture, $"{what} ({Words.Count(entry.Count, "place")}: measure {Places(entry.Measures)})");
        return instead.Length == 0 ? text : $"{text}; {instead}";
    }

    private static string Places(List<string> measures) => measures.Count <= MostPlaces
        ? string.Join(", ", measures)
        : string.Create(CultureInfo.InvariantCulture, $"{string.Join(", ", measures.Take(MostPlaces))} and {measures.Count - MostPlaces} more");

    private sealed class Entry(int order, Origin? place)
    {
        public int Order => order;

        public Origin? Place => place;

        public int Count { get; set; }

        public List<string> Measures { get; } = [];

        public HashSet<string> Numbers { get; } = new(StringComparer.Ordinal);

        public HashSet<object> Seen { get; } = new(ReferenceEqualityComparer.Instance);
    }
}
