using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>Edits the order of sections in a chart: unchanged steps keep their text.</summary>
/// <param name="editor">Receives the changes.</param>
/// <param name="root">The chart.</param>
/// <param name="names">The new names of the sections.</param>
/// <param name="tables">The sections' tables, null for new ones.</param>
internal sealed class FormEdits(TomlEditor editor, TomlTable root, IReadOnlyList<string> names, IReadOnlyList<TomlTable?> tables)
{
    private readonly int[] _repeats = [.. tables.Select(table => (int?)(table?.Find("repeat")?.Value as TomlInteger)?.Value ?? 1)];

    /// <summary>Writes the form and the tag.</summary>
    public void Write(IReadOnlyList<FormStep> form, IReadOnlyList<FormStep> tag)
    {
        // A section with its own repeat may now be played another number of times.
        foreach (var section in form.Concat(tag).Where(step => step.Times % _repeats[step.Section] != 0).Select(step => step.Section).Distinct())
        {
            _repeats[section] = 1;
            editor.Set(tables[section]!, "repeat", TomlLiteral.Number(1), ChartKeys.Section);
        }

        var usual = names.Select((_, index) => new FormStep(index, _repeats[index]));
        Write("form", form, [.. usual]);
        Write("tag", tag, []);
    }

    private void Write(string key, IReadOnlyList<FormStep> steps, IReadOnlyList<FormStep> usual)
    {
        var value = root.Find(key)?.Value;
        switch (value)
        {
            case null:
                if (!steps.SequenceEqual(usual))
                {
                    editor.Set(root, key, TomlLiteral.List(steps.Select(Text)), ChartKeys.Chart);
                }

                break;
            case TomlList list when steps.Count > 0:
                WriteList(list, steps);
                break;
            case TomlString text when steps.Count > 0:
                if (!text.Value.Split(',').Select(Step).SequenceEqual(steps.Select(step => (FormStep?)step)))
                {
                    WriteText(text, steps);
                }

                break;
            default:
                editor.Remove(root, key);
                break;
        }
    }

    private void WriteText(TomlString text, IReadOnlyList<FormStep> steps)
    {
        if (steps.All(step => !names[step.Section].Contains(',', StringComparison.Ordinal)))
        {
            editor.ReplaceText(text, string.Join(", ", steps.Select(Text)));
        }
        else
        {
            editor.ReplaceValue(text, TomlLiteral.List(steps.Select(Text)));
        }
    }

    private void WriteList(TomlList list, IReadOnlyList<FormStep> steps)
    {
        var old = list.Items.ConvertAll(item => Step(((TomlString)item).Value));
        var head = 0;
        while (head < old.Count && head < steps.Count && old[head] == steps[head])
        {
            head++;
        }

        var tail = 0;
        while (tail < old.Count - head && tail < steps.Count - head && old[^(tail + 1)] == steps[^(tail + 1)])
        {
            tail++;
        }

        var order = new List<(int? Was, string? Literal)>();
        for (var i = 0; i < steps.Count; i++)
        {
            var inMiddle = i >= head && i < steps.Count - tail;
            if (inMiddle && i < old.Count - tail)
            {
                editor.ReplaceText((TomlString)list.Items[i], Text(steps[i]));
            }

            order.Add(!inMiddle || i < old.Count - tail
                ? (i < steps.Count - tail ? i : old.Count - (steps.Count - i), null)
                : (null, TomlLiteral.Text(Text(steps[i]))));
        }

        if (old.Count != steps.Count)
        {
            editor.ArrangeItems(list, order);
        }
    }

    private FormStep? Step(string text) => FormReader.Step(text, names, _repeats);

    private string Text(FormStep step) => ChartWriter.Step(names[step.Section], step, step.Times / _repeats[step.Section]);
}
