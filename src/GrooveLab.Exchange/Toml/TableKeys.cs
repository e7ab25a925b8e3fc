using System.Globalization;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Toml;

/// <summary>Reads the keys of one table and reports problems in their values.</summary>
/// <param name="table">The table.</param>
/// <param name="problems">Receives the problems.</param>
internal sealed class TableKeys(TomlTable table, Problems problems)
{
    public TomlTable Table => table;

    public TomlEntry? Entry(string key) => table.Find(key);

    public bool Has(string key) => table.Find(key) is not null;

    /// <summary>A text; null if the key is missing or has another kind of value, which is then reported.</summary>
    public TomlString? Text(string key, string accepted)
    {
        switch (table.Find(key)?.Value)
        {
            case null:
                return null;
            case TomlString text when !string.IsNullOrWhiteSpace(text.Value):
                return text;
            case TomlString empty:
                problems.Add(empty.Start, $"{key} is empty", accepted);
                return null;
            case var other:
                problems.Add(other.Start, $"{key} must be a text in quotes", accepted);
                return null;
        }
    }

    public int? Integer(string key, int least, int most)
    {
        switch (table.Find(key)?.Value)
        {
            case null:
                return null;
            case TomlInteger number when number.Value >= least && number.Value <= most:
                return (int)number.Value;
            case var other:
                problems.Add(other.Start, $"{key} must be a whole number from {least} to {most}", Fitting(key, other, least, most, whole: true));
                return null;
        }
    }

    public double? Number(string key, double least, double most)
    {
        var value = table.Find(key)?.Value;
        double? number = value switch
        {
            TomlInteger whole => whole.Value,
            TomlFloat real => real.Value,
            _ => null,
        };
        if (value is null || number >= least && number <= most)
        {
            return number;
        }

        var range = string.Create(CultureInfo.InvariantCulture, $"{least} to {most}");
        problems.Add(value.Start, $"{key} must be a number from {range}", Fitting(key, value, least, most, whole: false));
        return null;
    }

    public bool? Flag(string key)
    {
        switch (table.Find(key)?.Value)
        {
            case null:
                return null;
            case TomlBoolean flag:
                return flag.Value;
            case var other:
                problems.Add(other.Start, $"{key} must be true or false", $"write {key} = true or {key} = false, without quotes");
                return null;
        }
    }

    /// <summary>One of several words; null if the key is missing or has another word, which is then reported.</summary>
    public T? Choice<T>(string key, params ReadOnlySpan<(string Word, T Meaning)> choices)
        where T : struct
    {
        var words = new List<string>();
        foreach (var (word, _) in choices)
        {
            words.Add($"\"{word}\"");
        }

        var accepted = $"write {key} = {Words.Or(words)}";
        if (Text(key, accepted) is not { } text)
        {
            return null;
        }

        foreach (var (word, meaning) in choices)
        {
            if (string.Equals(word, text.Value.Trim(), StringComparison.OrdinalIgnoreCase))
            {
                return meaning;
            }
        }

        problems.Add(text.PlaceOf(0), $"{key} cannot be {Words.Quote(text.Value)}", accepted);
        return null;
    }

    /// <summary>Reports all unknown keys.</summary>
    /// <param name="where">The kind of table, for the message: "a section".</param>
    /// <param name="known">The known keys.</param>
    /// <param name="elsewhere">The right table for a misplaced key; null if there is none.</param>
    public void TellUnknown(string where, IReadOnlyList<string> known, Func<string, string?> elsewhere)
    {
        foreach (var entry in table.Entries)
        {
            if (known.Contains(entry.Key, StringComparer.Ordinal))
            {
                continue;
            }

            var what = $"{Words.Quote(entry.Key)} is not a key of {where}";
            if (elsewhere(entry.Key) is { } place)
            {
                problems.Add(entry.KeyStart, what, place);
            }
            else if (Words.Nearest(entry.Key, known) is { } nearest)
            {
                problems.Add(entry.KeyStart, what, $"did you mean {nearest}?");
            }
            else
            {
                problems.Add(entry.KeyStart, what, $"accepted: {Words.And(known)}");
            }
        }
    }

    // The probable intention: the number in the quotes, or the nearest accepted one.
    private static string Fitting(string key, TomlNode value, double least, double most, bool whole)
    {
        double? number = value switch
        {
            TomlInteger { Value: var integer } => integer,
            TomlFloat { Value: var real } when !double.IsNaN(real) => real,
            TomlString { Value: var text } when double.TryParse(text, NumberStyles.Float, CultureInfo.InvariantCulture, out var quoted)
                && double.IsFinite(quoted) => quoted,
            _ => null,
        };
        var example = Math.Min(most, Math.Max(Math.Ceiling(least), 1));
        var near = number ?? example;
        near = Math.Clamp(whole ? Math.Round(near, MidpointRounding.AwayFromZero) : near, least, most);
        var written = string.Create(CultureInfo.InvariantCulture, $"{key} = {near}");
        if (value is TomlString)
        {
            return number is null ? $"write a number without quotes: {written}" : $"write it without quotes: {written}";
        }

        return number < least ? $"write {written} at least"
            : number > most ? $"write {written} at most"
            : number is not null ? $"write it without a fraction: {written}"
            : $"write {written}";
    }
}
