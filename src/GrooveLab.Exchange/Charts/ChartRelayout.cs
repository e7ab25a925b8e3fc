using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>Rewrites a chart's whole text when the old one cannot be edited; remarks stay with what they belonged to.</summary>
internal static class ChartRelayout
{
    /// <summary>Writes the text.</summary>
    /// <param name="text">The old text.</param>
    /// <param name="said">The chart in it; null when it has problems.</param>
    /// <param name="target">The chart to write.</param>
    /// <param name="reason">Why the old text could not be edited.</param>
    /// <exception cref="ChartProblemException">The chart cannot be written as text.</exception>
    public static WrittenChart Write(ChartDocument text, Chart? said, Chart target, string reason)
    {
        var lines = ChartWriter.Write(target, text.Catalogue).Split('\n').ToList();
        var body = text.Source.Text;
        var home = said is null ? _ => 0 : Homes(text, said, target, lines);
        var remarks = Remarks.In(body).Select(remark => (Line: home(remark.Start), Text: body[remark.Start..remark.End]));

        // From the last line up, so that the line numbers above stay valid.
        foreach (var group in remarks.GroupBy(remark => remark.Line).OrderByDescending(group => group.Key))
        {
            lines.InsertRange(group.Key, group.Select(remark => remark.Text));
        }

        var lineBreak = body.Contains("\r\n", StringComparison.Ordinal) ? "\r\n" : "\n";
        var written = text.With(string.Join(lineBreak, lines));
        var read = written.Read();
        if (!read.IsChart)
        {
            throw new ChartProblemException($"{read.Problems[0].What}; {read.Problems[0].Accepted}");
        }

        return SameChart.IsRead(target, read.Chart)
            ? new WrittenChart(written, IsReformatted: true, [$"the whole chart was reformatted: {reason}"])
            : throw new ChartProblemException("this chart cannot be written as text");
    }

    // The line before which a remark goes: the header of its part or section, or the top.
    private static Func<int, int> Homes(ChartDocument text, Chart said, Chart target, List<string> lines)
    {
        var homes = new List<(int Start, int Line)>();
        Add("part", said.Parts.Select(part => part.Name), target.Parts.Select(part => part.Name));
        Add("section", said.Sections.Select(section => section.Name), target.Sections.Select(section => section.Name));
        homes.Sort();
        var starts = homes.ConvertAll(home => home.Start);
        return place =>
        {
            var found = starts.BinarySearch(place);
            var at = found >= 0 ? found : ~found - 1;
            return at < 0 ? 0 : homes[at].Line;
        };

        void Add(string name, IEnumerable<string> was, IEnumerable<string> now)
        {
            var headers = Enumerable.Range(0, lines.Count).Where(line => lines[line] == $"[[{name}]]");

            // Two of the same name are reported when the text is read back.
            var lineOf = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
            foreach (var (title, line) in now.Zip(headers))
            {
                lineOf.TryAdd(title, line);
            }

            var tables = (text.Root.Find(name)?.Value as TomlList)?.Items ?? [];
            foreach (var (table, known) in tables.Cast<TomlTable>().Zip(was))
            {
                // A section's tune may be below another header.
                homes.AddRange(TomlEditor.Pieces(table).Select(piece => (piece.Start, lineOf.GetValueOrDefault(known))));
            }
        }
    }
}
