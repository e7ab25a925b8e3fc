using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

/// <summary>Prints the plan of an arrangement: a line for each playing of a section.</summary>
internal static class ArrangementTable
{
    // A form of more sections is cut here.
    private const int MostLines = 64;

    /// <summary>Writes the plan; a chart without one says so.</summary>
    public static void Write(BarComposer band, TextWriter to)
    {
        if (!band.Arrangement.IsArranged)
        {
            to.WriteLine("arrangement: none, every section is played plainly");
            to.WriteLine();
            return;
        }

        var runs = Runs(band).Take(MostLines + 1).ToList();
        var width = runs.Max(run => run.Section.Name.Length);
        to.WriteLine("arrangement");
        foreach (var run in runs.Take(MostLines))
        {
            var plan = band.Arrangement.PlanOf(run, run.Verse);
            to.WriteLine($"  bar {run.FirstBar + 1,-4} {run.Section.Name.PadRight(width)}  {ArrangementWords.Line(plan, band.Chart.Parts)}");
        }

        if (runs.Count > MostLines)
        {
            to.WriteLine($"  and so on to bar {band.Plan.Bars}");
        }

        to.WriteLine();
    }

    private static IEnumerable<SectionRun> Runs(BarComposer band)
    {
        var bars = band.Options.Bars ?? band.Plan.Bars;
        for (var bar = 0; bar < bars;)
        {
            var run = band.Plan.BarAt(bar).Run;
            yield return run;
            bar = run.EndBar;
        }
    }
}
