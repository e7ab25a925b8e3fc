using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits the keys of a chart or of a section, in the existing style.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="table">The chart or the section.</param>
/// <param name="order">Its keys in their usual order.</param>
internal sealed class SectionEdits(TomlEditor editor, TomlTable table, IReadOnlyList<string> order)
{
    /// <summary>Writes a text; null removes the key.</summary>
    public void Text(string key, string? before, string? now, string? usual = null)
    {
        if (before == now)
        {
            return;
        }

        if (now is null)
        {
            editor.Remove(table, key);
        }
        else if (table.Find(key) is not null || now != usual)
        {
            editor.SetText(table, key, now, order);
        }
    }

    /// <summary>Writes a literal; does not add a key for a default.</summary>
    public void Value<T>(string key, T before, T now, T usual, Func<T, string> literal)
    {
        if (!Equals(before, now) && (table.Find(key) is not null || !Equals(now, usual)))
        {
            editor.Set(table, key, literal(now), order);
        }
    }

    /// <summary>Writes the key; keeps the words of an unchanged mode.</summary>
    public void Key(Key? before, Key? now)
    {
        if (before != now)
        {
            Text("key", string.Empty, now is null ? null : table.Find("key")?.Value is TomlString was ? InManner(was.Value, now) : now.ToString());
        }
    }

    /// <summary>Writes a tempo.</summary>
    public void Tempo(string key, TempoMark? before, TempoMark? now)
    {
        if (before != now)
        {
            var was = (table.Find(key)?.Value as TomlString)?.Value;
            Text(key, string.Empty, now is not { } mark ? null : was is null ? TempoText.Write(mark) : TempoWords.Mark(was, mark));
        }
    }

    /// <summary>Writes the changes of tempo; those that stay keep their text.</summary>
    public void Tempo(Section before, Section now)
    {
        if (before.Tempo == now.Tempo && before.Ramps.SequenceEqual(now.Ramps))
        {
            return;
        }

        var value = table.Find("tempo")?.Value;
        var (said, texts) = (TempoText.Write(before).ToList(), TempoText.Write(now).ToArray());
        var places = new List<int>();
        if (value is TomlString { Value: var was } && now is { Tempo: { } change, Ramps.Count: 0 })
        {
            texts[0] = TempoText.IsRise(was) ? texts[0] : TempoWords.Change(was, change);
        }
        else if (value is TomlList list)
        {
            // In the order of the text, where the change at the start may not come first.
            foreach (var text in list.Items.OfType<TomlString>())
            {
                var read = TempoText.IsRise(text.Value)
                    ? TempoText.Rise(text, Problems.Unread()) is { } rise ? TempoText.Write(rise) : null
                    : TempoText.Change(text, Problems.Unread()) is { } first ? TempoText.Write(first) : null;
                places.Add(read is null ? -1 : said.IndexOf(read));
                for (var i = 0; i < texts.Length && places[^1] >= 0; i++)
                {
                    texts[i] = texts[i] == read ? text.Value : texts[i];
                }
            }
        }

        switch (texts)
        {
            case [var one]:
                Text("tempo", string.Empty, one);
                break;
            case []:
                editor.Remove(table, "tempo");
                break;
            default:
                Tempi(places, texts, said.Count == texts.Length && before.Tempo is null == now.Tempo is null);
                break;
        }
    }

    // Each change of tempo that is written already stays in its place, with its line break and its remark.
    private void Tempi(List<int> places, string[] texts, bool inPlace)
    {
        if (table.Find("tempo")?.Value is not TomlList list || places.Count != list.Items.Count || places.Contains(-1))
        {
            editor.Set(table, "tempo", TomlLiteral.List(texts), order);
            return;
        }

        var was = list.Items.ConvertAll(item => ((TomlString)item).Value);
        var now = inPlace && places.Distinct().Count() == texts.Length ? places.ConvertAll(place => texts[place]) : [.. texts];
        editor.ArrangeItems(list, [.. now.Select(text => was.IndexOf(text) is >= 0 and var at ? ((int?)at, (string?)null) : (null, TomlLiteral.Text(text)))]);
    }

    /// <summary>Writes the felt level, in the plural if the text has the plural.</summary>
    public void Feel(FeltLevel? before, FeltLevel? now)
    {
        var plural = table.Find("feel")?.Value is TomlString was && was.Value.Trim().EndsWith('s');
        Text("feel", before?.Name(), now is { } felt ? felt.Name() + (plural && before != now ? "s" : string.Empty) : null);
    }

    /// <summary>Writes what is counted.</summary>
    public void Counted(Counted? before, Counted? now) =>
        Text("counted", before is { } was ? ChartWriter.Word(was) : null, now is { } counted ? ChartWriter.Word(counted) : null);

    /// <summary>Writes the bar groups if the text, or the chart, has different ones.</summary>
    public void BarGroups(BarGroups stands, BarGroups now)
    {
        if (stands == now)
        {
            return;
        }

        switch (table.Find("bar-groups")?.Value)
        {
            case TomlString text:
                editor.ReplaceText(text, now.ToString());
                break;
            case TomlList list:
                editor.ReplaceValue(list, "[" + string.Join(", ", now.Pattern.Select(size => TomlLiteral.Number(size))) + "]");
                break;
            default:
                editor.Set(table, "bar-groups", ChartWriter.BarGroupsLiteral(now), order);
                break;
        }
    }

    /// <summary>Writes what it says about its arrangement, if its words no longer say that: the name of a role means other parts when the band has
    /// changed.</summary>
    public void Orders(SectionOrders? now, IReadOnlyList<int>? playing, IReadOnlyList<Part> parts)
    {
        var problems = Problems.Unread();
        var stands = OrderKeys.Read(new TableKeys(table, problems), parts, playing, SectionReader.Named, problems);
        foreach (var ((key, was), (_, wanted)) in OrderKeys.Write(stands, parts).Zip(OrderKeys.Write(now, parts)))
        {
            // What names a part that has left the band does not count as read.
            if (was == wanted && (problems.Count == 0 || key == "energy"))
            {
                continue;
            }

            if (wanted is null)
            {
                editor.Remove(table, key);
            }
            else
            {
                editor.Set(table, key, wanted, order);
            }
        }
    }

    /// <summary>Writes the playing parts if the named ones are no longer right.</summary>
    public void Playing(IReadOnlyList<int>? now, IReadOnlyList<Part> parts)
    {
        var value = table.Find("play")?.Value;
        if (now is null)
        {
            editor.Remove(table, "play");
            return;
        }

        IReadOnlyList<TomlString> said = value switch
        {
            TomlString one => [one],
            TomlList list => [.. list.Items.OfType<TomlString>()],
            _ => [],
        };
        var wanted = now.ToHashSet();
        var meant = said.Select(name => SectionReader.Named(name.Value, parts)).ToList();
        var stay = Enumerable.Range(0, said.Count).Where(i => meant[i].Count > 0 && meant[i].TrueForAll(wanted.Contains)).ToList();
        var missing = wanted.Except(stay.SelectMany(i => meant[i])).Order().Select(part => TomlLiteral.Text(parts[part].Name)).ToList();
        if (value is not null && stay.Count == said.Count && missing.Count == 0)
        {
            return;
        }

        if (value is TomlList names && names.Items.Count == said.Count)
        {
            editor.ArrangeItems(names, [.. stay.Select(i => ((int?)i, (string?)null)), .. missing.Select(name => ((int?)null, (string?)name))]);
        }
        else
        {
            editor.Set(table, "play", TomlLiteral.List(now.Select(part => parts[part].Name)), order);
        }
    }

    private static string InManner(string was, Key now)
    {
        if (!Music.Harmony.Key.TryParse(was, out var old, out _))
        {
            return now.ToString();
        }

        var start = was.Length - was.TrimStart().Length;
        var end = start + 1;
        while (end < was.Length && was[end] is '#' or 'b' or 'x' or '♯' or '♭')
        {
            end++;
        }

        var tonic = was.AsSpan(start..end).IndexOfAny('♯', '♭') >= 0 ? now.Tonic.ToSigns() : now.Tonic.ToString();
        var text = was[..start] + tonic + was[end..];
        return old.Mode == now.Mode && Music.Harmony.Key.TryParse(text, out var read, out _) && read == now ? text : now.ToString();
    }
}
