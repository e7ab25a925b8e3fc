using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble;

/// <summary>The earlier playings of a section: which bars of them are the same bars, and what the arrangement asks there. Pure.</summary>
internal sealed class EarlierPlayings
{
    /// <summary>A part's task has been met in one of so many playings, or it counts as new.</summary>
    private const int Remembered = 8;

    private readonly SectionRun[] _runs;
    private readonly BarTasks?[][] _tasks;

    private EarlierPlayings(SectionRun[] runs, BarTasks?[][] tasks)
    {
        _runs = runs;
        _tasks = tasks;
    }

    /// <summary>None.</summary>
    public static EarlierPlayings None { get; } = new([], []);

    /// <summary>The playings of the section of a run before a given one, rounds of a loop or vamp included, the first ones of many.</summary>
    public static EarlierPlayings Before(FormPlan form, ArrangementPlan plan, RunOutline outline, int playing)
    {
        var run = outline.Run;
        var inPass = form.Runs.Where(other => other.FirstBar < form.BarsInPass && other.SectionIndex == run.SectionIndex).ToArray();
        var count = Math.Min(playing, Remembered);
        var runs = new SectionRun[count];
        var tasks = new BarTasks?[count][];
        for (var earlier = 0; earlier < count; earlier++)
        {
            runs[earlier] = earlier < run.Verse && inPass.Length > 0
                ? form.BarAt(inPass[earlier % inPass.Length].FirstBar + (earlier / inPass.Length * form.BarsInPass)).Run
                : run;
            tasks[earlier] = [.. outline.Places.Select(place => SameBar(form, runs[earlier], Math.Min(earlier, run.Verse), place) is { } same ? plan.TasksIn(same, earlier) : null)];
        }

        return new EarlierPlayings(runs, tasks);
    }

    /// <summary>The first earlier playing in which a part had that task in the same bar; null for none.</summary>
    public int? FirstWith(int part, int barInRun, PartTask task)
    {
        for (var earlier = 0; earlier < _tasks.Length; earlier++)
        {
            if (_tasks[earlier][barInRun]?.Tasks[part] == task)
            {
                return earlier;
            }
        }

        return null;
    }

    /// <summary>The energy of the section in the same bar of an earlier playing.</summary>
    public int EnergyIn(int playing, int barInRun) => _tasks[playing][barInRun]!.Energy;

    /// <summary>The run of an earlier playing.</summary>
    public SectionRun RunOf(int playing) => _runs[playing];

    // Null where it has another ending, key, meter or feel.
    private static BarPlace? SameBar(FormPlan form, SectionRun run, int verse, BarPlace place)
    {
        if (place.IndexInRun >= run.Bars)
        {
            return null;
        }

        var other = form.BarAt(run.FirstBar + place.IndexInRun);
        return other.Run.SectionIndex == place.Run.SectionIndex && other.Run.Verse == verse && other.IndexInRun == place.IndexInRun
            && other.Ending == place.Ending && other.Run.Key.Equals(place.Run.Key) && other.Run.Up == place.Run.Up
            && other.Meter.Equals(place.Meter) && other.Felt == place.Felt
            && other.Chords.Count == place.Chords.Count && other.Chords.Zip(place.Chords).All(both => both.First.Onset == both.Second.Onset && both.First.Symbol.Equals(both.Second.Symbol))
            ? other
            : null;
    }
}
