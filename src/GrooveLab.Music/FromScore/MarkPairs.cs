using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>Keeps the marks of a section's line that a chart can have: a line of marks begins and ends in the section, and only one of a
/// kind at a time.</summary>
internal sealed class MarkPairs(ChartMakerOptions options, LossList losses, WrittenMusic music)
{
    private readonly Dictionary<MarkKind, (Mark Start, Step Step)> _open = [];

    /// <summary>The step with the marks that it keeps.</summary>
    public Step Take(Step step)
    {
        if (step.Marks.Count == 0)
        {
            return step;
        }

        var kept = new List<Mark>();

        // An end comes before a new start on the same note.
        foreach (var mark in step.Marks.OrderBy(mark => mark.Edge == MarkEdge.Start ? 1 : 0))
        {
            var made = mark;
            if (mark.Edge == MarkEdge.Start)
            {
                if (!_open.TryAdd(mark.Kind, (mark, step)))
                {
                    Lose(mark, step);
                    continue;
                }
            }
            else if (mark.Edge == MarkEdge.Stop)
            {
                if (!_open.Remove(mark.Kind, out var start))
                {
                    continue;
                }

                made = mark with { Text = start.Start.Text };
            }

            if (made.Edge != MarkEdge.Continue && options.KeepsMark(made) && !kept.Contains(made))
            {
                kept.Add(made);
            }
            else if (made.Edge == MarkEdge.Single)
            {
                Lose(made, step);
            }
        }

        return step with { Marks = [.. kept] };
    }

    /// <summary>Removes starts without an end.</summary>
    public void Close(List<List<Step>> steps)
    {
        foreach (var (kind, (mark, open)) in _open)
        {
            Lose(mark, open);
            for (var i = steps.Count - 1; i >= 0; i--)
            {
                var at = steps[i].FindLastIndex(step => step.Marks.Any(one => one.Kind == kind && one.Edge == MarkEdge.Start));
                if (at >= 0)
                {
                    steps[i][at] = steps[i][at] with { Marks = [.. steps[i][at].Marks.Where(one => one.Kind != kind || one.Edge != MarkEdge.Start)] };
                    break;
                }
            }
        }
    }

    private void Lose(Mark mark, Step step) =>
        losses.Add($"{LossScan.NameOf(mark)} that a section cannot have", string.Empty, music.Measures[step.Measure], null, null);
}
