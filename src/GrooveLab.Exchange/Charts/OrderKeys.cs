using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes what a chart says about its arrangement: <c>arrangement</c> at its top; <c>energy</c>, <c>tasks</c> and
/// <c>fill</c> in a section.</summary>
internal static class OrderKeys
{
    private const string Nobody = "none";
    private const string AcceptedEnergy = "write energy = 3, from 1 to 5, or energy = [2, 3, 4] for the first, second and later times";
    private const string AcceptedTasks = "write tasks = [\"roll: rests, plays\"]: a part, then what it does the first time, the second time and so on";

    /// <summary>Whether the chart is arranged.</summary>
    public static bool ReadArranged(TableKeys keys) =>
        keys.Choice<bool>("arrangement", ("form", true), (Nobody, false)) ?? true;

    /// <summary>The literal of <c>arrangement</c>.</summary>
    public static string Arranged(bool isArranged) => TomlLiteral.Text(isArranged ? "form" : Nobody);

    /// <summary>What a section says; null for nothing.</summary>
    /// <param name="keys">The section.</param>
    /// <param name="parts">The band; null if it has a problem.</param>
    /// <param name="playing">The parts that play in it; null for all.</param>
    /// <param name="named">The parts of a name or role.</param>
    /// <param name="problems">Receives the problems.</param>
    public static SectionOrders? Read(
        TableKeys keys, IReadOnlyList<Part>? parts, IReadOnlyList<int>? playing, Func<string, IReadOnlyList<Part>, IReadOnlyCollection<int>> named, Problems problems)
    {
        var orders = new SectionOrders
        {
            Energies = [.. Energies(keys, problems)],
            Tasks = parts is null ? [] : [.. Tasks(keys, parts, named, problems)],
            Fill = parts is null ? null : Fill(keys, parts, playing, named, problems),
        };
        return orders.Energies.Count == 0 && orders.Tasks.Count == 0 && orders.Fill is null ? null : orders;
    }

    /// <summary>The keys with their literals; null for none.</summary>
    public static IEnumerable<(string Key, string? Literal)> Write(SectionOrders? orders, IReadOnlyList<Part> parts)
    {
        yield return ("energy", orders?.Energies switch
        {
            null or { Count: 0 } => null,
            [var one] => TomlLiteral.Number(one),
            var many => "[" + string.Join(", ", many.Select(one => TomlLiteral.Number(one))) + "]",
        });
        yield return ("tasks", orders is { Tasks.Count: > 0 }
            ? TomlLiteral.List(orders.Tasks.Select(one => $"{parts[one.Part].Name}: {string.Join(", ", one.Tasks.Select(task => task.Name()))}"))
            : null);
        yield return ("fill", orders?.Fill is { } fill ? TomlLiteral.Text(fill == SectionOrders.NoFill ? Nobody : parts[fill].Name) : null);
    }

    private static IEnumerable<int> Energies(TableKeys keys, Problems problems)
    {
        switch (keys.Entry("energy")?.Value)
        {
            case null:
                return [];
            case TomlList { OfTables: false } list when list.Items.Count > 0:
                var wrong = list.Items.Find(item => Energy(item) is null);
                if (wrong is not null)
                {
                    problems.Add(wrong.Start, "an energy is a whole number from 1 to 5", AcceptedEnergy);
                    return [];
                }

                return list.Items.Select(item => Energy(item)!.Value);
            case var one when Energy(one) is { } energy:
                return [energy];
            case var other:
                problems.Add(other.Start, "energy must be a whole number from 1 to 5, or a list of them", AcceptedEnergy);
                return [];
        }
    }

    private static int? Energy(TomlNode node) =>
        node is TomlInteger { Value: >= BarTasks.Least and <= BarTasks.Most and var value } ? (int)value : null;

    private static List<PartOrders> Tasks(
        TableKeys keys, IReadOnlyList<Part> parts, Func<string, IReadOnlyList<Part>, IReadOnlyCollection<int>> named, Problems problems)
    {
        var orders = new SortedDictionary<int, PartOrders>();
        var byName = new Dictionary<int, bool>();
        IReadOnlyList<TomlNode> items;
        switch (keys.Entry("tasks")?.Value)
        {
            case null:
                return [];
            case TomlString one:
                items = [one];
                break;
            case TomlList { OfTables: false } list when list.Items.TrueForAll(item => item is TomlString):
                items = list.Items;
                break;
            case var other:
                problems.Add(other.Start, "tasks must be a list of texts in quotes", AcceptedTasks);
                return [];
        }

        foreach (var item in items.Cast<TomlString>())
        {
            var colon = item.Value.LastIndexOf(':');
            if (colon < 0)
            {
                problems.Add(item.PlaceOf(0), $"{Words.Quote(item.Value)} has no colon after the part", AcceptedTasks);
                continue;
            }

            var found = Find(item, item.Value[..colon].Trim(), parts, named, problems);
            var tasks = new List<PartTask>();
            var at = colon + 1;
            foreach (var word in item.Value[(colon + 1)..].Split(','))
            {
                var task = PartTasks.Parse(word.Trim());
                if (task is null or PartTask.Break)
                {
                    var known = PartTasks.All.Where(name => name != PartTask.Break.Name()).ToList();
                    var near = Words.Nearest(word.Trim(), known);
                    problems.Add(
                        item.PlaceOf(Math.Min(at, item.Value.Length - 1)),
                        word.Trim().Length == 0 ? "a task is missing" : $"no task called {Words.Quote(word.Trim())}",
                        (near is null ? string.Empty : $"did you mean {Words.Quote(near)}? ") + $"tasks: {Words.And([.. known.Select(word => Words.Quote(word))])}");
                }
                else
                {
                    tasks.Add(task.Value);
                }

                at += word.Length + 1;
            }

            foreach (var part in tasks.Count == 0 ? [] : found)
            {
                if (parts[part].Role is Role.Tune or Role.Count)
                {
                    problems.Add(item.PlaceOf(0), $"{parts[part].Name} plays the {parts[part].Role.Name()}, which the arrangement leaves alone", "name a pulse, roll, bass or sustain part");
                    break;
                }

                // A part's own name comes before that of its role.
                var isNamed = string.Equals(parts[part].Name, item.Value[..colon].Trim(), StringComparison.OrdinalIgnoreCase);
                if (byName.TryGetValue(part, out var wasNamed) && wasNamed == isNamed)
                {
                    problems.Add(item.PlaceOf(0), $"two entries give {parts[part].Name} its tasks", "keep one of them; a list of tasks goes through the playings: \"roll: rests, high\"");
                    break;
                }

                if (!wasNamed)
                {
                    (orders[part], byName[part]) = (new PartOrders(part, tasks), isNamed);
                }
            }
        }

        return [.. orders.Values];
    }

    private static int? Fill(
        TableKeys keys, IReadOnlyList<Part> parts, IReadOnlyList<int>? playing, Func<string, IReadOnlyList<Part>, IReadOnlyCollection<int>> named, Problems problems)
    {
        const string accepted = "write fill = \"roll\" with the name of a part or role, or fill = \"none\"";
        if (keys.Text("fill", accepted) is not { } text)
        {
            return null;
        }

        if (text.Value.Trim() == Nobody)
        {
            return SectionOrders.NoFill;
        }

        var found = Find(text, text.Value.Trim(), parts, named, problems);
        var able = found.Where(part => parts[part].Role is not (Role.Tune or Role.Count)).ToList();
        if (found.Count > 0 && able.Count == 0)
        {
            problems.Add(text.PlaceOf(0), $"{text.Value.Trim()} cannot play a fill", "name a pulse, roll, bass or sustain part");
        }

        // A role means one of its parts that plays there.
        var there = able.Where(part => playing?.Contains(part) != false).ToList();
        return able.Count == 0 ? null : there.Count > 0 ? there[0] : able[0];
    }

    private static IReadOnlyCollection<int> Find(
        TomlString text, string name, IReadOnlyList<Part> parts, Func<string, IReadOnlyList<Part>, IReadOnlyCollection<int>> named, Problems problems)
    {
        var found = named(name, parts);
        if (found.Count == 0)
        {
            var band = parts.Where(part => part.Role is not (Role.Tune or Role.Count)).ToList();
            var known = band.Select(part => part.Name).Concat(band.Select(part => part.Role.Name())).Distinct(StringComparer.OrdinalIgnoreCase).ToList();
            var near = Words.Nearest(name, known);
            var list = $"parts and roles: {Words.And([.. known.Select(word => Words.Quote(word))])}";
            problems.Add(text.PlaceOf(0), $"no part called {Words.Quote(name)}", near is null ? list : $"did you mean {Words.Quote(near)}? {list}");
        }

        return found;
    }
}
