using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes what a chart says about being moved into another meter: its table <c>[recast]</c>.</summary>
internal static class RecastKeys
{
    private const string Pins = "pins";
    private const string BarWord = " bar ";
    private const double LargestCost = 100;
    private const int MostNotes = 256;
    private const string Accepted = "write pins = [\"verse bar 2: 1 3 4 | 1 - 5\"]: for each bar it becomes, the unit of each note, - for a free one";

    /// <summary>The keys of the table.</summary>
    public static IReadOnlyList<string> All { get; } = [.. PlacementCosts.Names, Pins];

    /// <summary>What the table says; null without one.</summary>
    /// <param name="keys">The chart.</param>
    /// <param name="sections">The names of its sections, with their numbers of bars.</param>
    /// <param name="problems">Receives the problems.</param>
    public static RecastNotes? Read(TableKeys keys, IReadOnlyList<(string Name, int Bars)> sections, Problems problems)
    {
        switch (keys.Entry("recast")?.Value)
        {
            case null:
                return null;
            case TomlTable table:
                var own = new TableKeys(table, problems);
                own.TellUnknown("[recast]", All, ChartKeys.Home);
                var costs = PlacementCosts.Names.Select(name => (Name: name, Value: own.Number(name, 0, LargestCost))).Where(cost => cost.Value is not null);
                return new RecastNotes { Costs = [.. costs.Select(cost => new RecastCost(cost.Name, cost.Value!.Value))], Pins = [.. ReadPins(own, sections, problems)] };
            case var other:
                problems.Add(other.Start, "recast must be a table", "write [recast] on a line, with its keys below");
                return null;
        }
    }

    /// <summary>The keys with their literals.</summary>
    public static IEnumerable<(string Key, string Literal)> Write(RecastNotes notes)
    {
        foreach (var cost in notes.Costs)
        {
            yield return (cost.Name, TomlLiteral.Number(cost.Value));
        }

        if (notes.Pins.Count > 0)
        {
            yield return (Pins, TomlLiteral.List(notes.Pins.Select(pin => pin.ToString())));
        }
    }

    private static IEnumerable<RecastPin> ReadPins(TableKeys keys, IReadOnlyList<(string Name, int Bars)> sections, Problems problems)
    {
        IReadOnlyList<TomlNode> items = keys.Entry(Pins)?.Value switch
        {
            null => [],
            TomlList list => list.Items,
            var single => [single],
        };
        var seen = new HashSet<(string, int)>();
        foreach (var item in items)
        {
            if (item is not TomlString text)
            {
                problems.Add(item.Start, "a pin must be a text in quotes", Accepted);
            }
            else if (Pin(text.Value, sections, out var problem) is not { } pin)
            {
                problems.Add(text.PlaceOf(0), problem!, Accepted);
            }
            else if (!seen.Add((pin.Section, pin.Bar)))
            {
                problems.Add(text.PlaceOf(0), $"{pin.Section} bar {pin.Bar} is pinned twice", "join the two pins");
            }
            else
            {
                yield return pin;
            }
        }
    }

    private static RecastPin? Pin(string text, IReadOnlyList<(string Name, int Bars)> sections, out string? problem)
    {
        var colon = text.IndexOf(':', StringComparison.Ordinal);
        var word = colon < 0 ? -1 : text[..colon].LastIndexOf(BarWord, StringComparison.OrdinalIgnoreCase);
        if (word < 0 || !int.TryParse(text[(word + BarWord.Length)..colon].Trim(), NumberStyles.None, CultureInfo.InvariantCulture, out var bar))
        {
            problem = $"{Words.Quote(text)} names no section and bar";
            return null;
        }

        var name = text[..word].Trim();
        var index = sections.ToList().FindIndex(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase));
        if (index < 0 || bar < 1 || bar > sections[index].Bars)
        {
            problem = index < 0 ? Words.Unknown("section", name, sections.Select(section => section.Name))
                : string.Create(CultureInfo.InvariantCulture, $"{sections[index].Name} has no bar {bar}; it has {Words.Count(sections[index].Bars, "bar")}");
            return null;
        }

        var bars = new List<PinnedBar>();
        foreach (var part in text[(colon + 1)..].Split('|'))
        {
            var places = part.Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(Note).ToList();
            var units = places.OfType<PinnedNote>().Select(note => note.Unit).OfType<Rational>().ToList();
            if (places.Contains(null) || places.Count > MostNotes || units.Exists(unit => unit < Rational.One) || units.Zip(units.Skip(1)).Any(pair => pair.First >= pair.Second))
            {
                problem = $"the places {Words.Quote(part.Trim())} are not units in ascending order from 1";
                return null;
            }

            bars.Add(new PinnedBar([.. places.OfType<PinnedNote>()]));
        }

        problem = null;
        return new RecastPin(sections[index].Name, bar, [.. bars]);
    }

    private static PinnedNote? Note(string word) => word == "-" ? new PinnedNote((Rational?)null)
        : Rational.TryParse(word, out var unit) && unit.Numerator < 10_000 && unit.Denominator <= 64 ? new PinnedNote(unit) : null;
}
