using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits the band in the text: adds, removes and reorders parts together with all their text.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="root">The chart.</param>
/// <param name="catalogue">The instruments.</param>
internal sealed class BandEdits(TomlEditor editor, TomlTable root, InstrumentCatalogue catalogue)
{
    /// <summary>Writes the band.</summary>
    /// <param name="before">The parts in the text.</param>
    /// <param name="now">The new parts.</param>
    /// <returns>False when a part cannot be moved.</returns>
    public bool Write(IReadOnlyList<Part> before, IReadOnlyList<Part> now)
    {
        if (root.Find("part")?.Value is not TomlList list)
        {
            if (before.Count != now.Count || before.Zip(now).Any(pair => !SameChart.Parts(pair.First, pair.Second)))
            {
                WriteFirst(now);
            }

            return true;
        }

        var tables = list.Items.Cast<TomlTable>().ToList();
        var was = Was(before, now);
        var named = Named(tables, now, was);
        for (var i = 0; i < now.Count; i++)
        {
            if (was[i] is { } index)
            {
                Change(tables[index], before[index], now[i], named.Contains(i));
            }
        }

        var inPlace = was.Length == before.Count && was.Select((index, at) => index == at).All(same => same);
        return inPlace
            || editor.Arrange(list, "part", [.. was.Select((index, at) => (index, index is null ? New(now[at], named.Contains(at)) : null))]);
    }

    // The old part for each: by name, or the same part with another name.
    private static int?[] Was(IReadOnlyList<Part> before, IReadOnlyList<Part> now)
    {
        var byName = before.Select((part, index) => (part.Name, index)).ToDictionary(pair => pair.Name, pair => pair.index, StringComparer.OrdinalIgnoreCase);
        var was = now.Select(part => byName.TryGetValue(part.Name, out var index) ? index : (int?)null).ToArray();
        var left = Enumerable.Range(0, before.Count).Except(was.OfType<int>()).ToList();
        for (var i = 0; i < now.Count; i++)
        {
            if (was[i] is null
                && left.FindIndex(index => before[index].Role == now[i].Role && before[index].Instrument.Name == now[i].Instrument.Name) is var found and >= 0)
            {
                was[i] = left[found];
                left.RemoveAt(found);
            }
        }

        return was;
    }

    // The parts that need a written name: the others are named after their instrument when read.
    private static HashSet<int> Named(IReadOnlyList<TomlTable> tables, IReadOnlyList<Part> now, int?[] was)
    {
        var anyNamed = tables.Any(table => table.Find("name") is not null);
        var named = Enumerable.Range(0, now.Count).Where(i => was[i] is { } index ? tables[index].Find("name") is not null : anyNamed).ToHashSet();
        while (true)
        {
            var taken = named.Select(i => now[i].Name).ToHashSet(StringComparer.OrdinalIgnoreCase);
            var wrong = -1;
            for (var i = 0; i < now.Count && wrong < 0; i++)
            {
                if (!named.Contains(i) && HouseBand.FreeName(now[i].Instrument, taken) != now[i].Name)
                {
                    wrong = i;
                }
            }

            if (wrong < 0)
            {
                return named;
            }

            named.Add(wrong);
        }
    }

    private void WriteFirst(IReadOnlyList<Part> now)
    {
        var named = Named([], now, new int?[now.Count]);
        var tables = now.Select((part, i) => New(part, named.Contains(i))).ToList();
        var sections = root.Find("section")?.Value as TomlList;
        if (sections is { OfTables: true, Items: [TomlTable first, ..] })
        {
            editor.InsertTables(first, "part", tables);
        }
        else
        {
            editor.AppendTables(root, "part", tables);
        }
    }

    private TomlEditor.NewTable New(Part part, bool named) =>
        new([.. ChartWriter.PartKeys(part, catalogue).Where(key => named || key.Key != "name")]);

    private void Change(TomlTable table, Part before, Part now, bool named)
    {
        var order = (string[])[.. ChartKeys.Part, .. ChartKeys.SettingsOf(now.Role)];
        if (named)
        {
            SetText(table, "name", now.Name, before.Name == now.Name && table.Find("name") is not null, order);
        }

        SetText(table, "role", now.Role.Name(), before.Role == now.Role, order);

        // A part that names no instrument has that of its role.
        var isSaid = before.Role == now.Role || table.Find("instrument") is not null;
        SetText(table, "instrument", now.Instrument.Name, isSaid && before.Instrument.Name == now.Instrument.Name, order);
        Register(table, before, now, order);
        Number(table, "level", TomlLiteral.Number(now.LevelDecibels), before.LevelDecibels.Equals(now.LevelDecibels), now.LevelDecibels.Equals(HouseBand.Level(now.Role)), order);
        Number(table, "pan", TomlLiteral.Number(now.Pan), before.Pan == now.Pan, now.Pan == HouseBand.Pan(now.Role), order);
        if (before.Silent != now.Silent)
        {
            if (now.Silent)
            {
                editor.Set(table, "silent", TomlLiteral.Flag(true), order);
            }
            else
            {
                editor.Remove(table, "silent");
            }
        }

        var old = ChartWriter.Settings(before.Settings).ToDictionary(setting => setting.Key, setting => setting.Literal, StringComparer.Ordinal);
        foreach (var key in old.Keys.Except(ChartWriter.Settings(now.Settings).Select(setting => setting.Key)).ToList())
        {
            editor.Remove(table, key);
        }

        foreach (var (key, literal, isUsual) in ChartWriter.Settings(now.Settings))
        {
            if (before.Role == now.Role && old[key] == literal)
            {
                continue;
            }

            if (literal is null)
            {
                editor.Remove(table, key);
            }
            else if (table.Find(key) is not null || !isUsual)
            {
                editor.Set(table, key, literal, order);
            }
        }
    }

    private void Register(TomlTable table, Part before, Part now, IReadOnlyList<string> order)
    {
        var value = table.Find("register")?.Value;
        if (now.Instrument.Unpitched)
        {
            editor.Remove(table, "register");
            return;
        }

        if (value is null ? catalogue.Register(now.Instrument, now.Role) == (now.Lowest, now.Highest) : (before.Lowest, before.Highest) == (now.Lowest, now.Highest))
        {
            return;
        }

        if (value is TomlList { Items: [TomlString low, TomlString high] })
        {
            var sides = ChartWriter.Register(now).Split('-');
            editor.ReplaceText(low, sides[0]);
            editor.ReplaceText(high, sides[1]);
        }
        else
        {
            editor.SetText(table, "register", ChartWriter.Register(now), order);
        }
    }

    private void SetText(TomlTable table, string key, string text, bool same, IReadOnlyList<string> order)
    {
        if (!same)
        {
            editor.SetText(table, key, text, order);
        }
    }

    // Defaults need not be written if they are not in the text.
    private void Number(TomlTable table, string key, string literal, bool same, bool usual, IReadOnlyList<string> order)
    {
        if (table.Find(key) is null ? !usual : !same)
        {
            editor.Set(table, key, literal, order);
        }
    }
}
