using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Ensemble;

/// <summary>Says the plan of an arrangement in words.</summary>
public static class ArrangementWords
{
    /// <summary>What the parts do that do not simply play, "cello rests, hammered dulcimer off-beats"; empty when all play.</summary>
    public static string Tasks(RunPlan plan, IReadOnlyList<Part> parts) => string.Join(", ", plan.Tasks
        .Select((task, part) => (task, part))
        .Where(one => one.part < parts.Count && parts[one.part].Role is not (Role.Tune or Role.Count) && one.task != PartTask.Plays)
        .Select(one => $"{parts[one.part].Name} {one.task.Name()}"));

    /// <summary>What happens at the end of a run, "hammered dulcimer fills, plucked bass leads on, rises"; empty for nothing.</summary>
    public static string End(RunPlan plan, IReadOnlyList<Part> parts)
    {
        var words = plan.Breaks ? ["the band breaks off"] : plan.Fills.Select(fill => parts[fill.Part].Name + (fill.Task == PartTask.Fill ? " fills" : " leads on")).ToList();
        if (plan.Rises != 0)
        {
            words.Add(plan.Rises > 0 ? "all rise" : "all settle");
        }

        return string.Join(", ", words);
    }

    /// <summary>A plan in a line: "energy 2: cello rests; at the end hammered dulcimer fills".</summary>
    public static string Line(RunPlan plan, IReadOnlyList<Part> parts)
    {
        var (tasks, end) = (Tasks(plan, parts), End(plan, parts));
        return $"energy {plan.Energy}" + (tasks.Length > 0 ? $": {tasks}" : string.Empty) + (end.Length > 0 ? $"; at the end {end}" : string.Empty);
    }

    /// <summary>How a run begins for someone who hears the one before it: "fuller", "thinner, the cello enters"; empty for no
    /// difference.</summary>
    public static string Change(RunPlan before, RunPlan next, IReadOnlyList<Part> parts)
    {
        var words = new List<string>();
        if (next.Energy != before.Energy)
        {
            words.Add(next.Energy > before.Energy ? "fuller" : "thinner");
        }

        var entering = Names(part => before.Tasks[part] == PartTask.Rests && next.Tasks[part] != PartTask.Rests);
        var resting = Names(part => before.Tasks[part] != PartTask.Rests && next.Tasks[part] == PartTask.Rests);
        if (entering.Count > 0)
        {
            words.Add($"{Words.And(entering)} {(entering.Count == 1 ? "enters" : "enter")}");
        }

        if (resting.Count > 0)
        {
            words.Add($"{Words.And(resting)} {(resting.Count == 1 ? "rests" : "rest")}");
        }

        return string.Join(", ", words);

        List<string> Names(Func<int, bool> which) => [.. Enumerable.Range(0, Math.Min(parts.Count, next.Tasks.Count))
            .Where(part => parts[part].Role is not (Role.Tune or Role.Count) && which(part)).Select(part => parts[part].Name)];
    }
}
