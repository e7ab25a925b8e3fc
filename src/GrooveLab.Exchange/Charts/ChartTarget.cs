using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>The target of an edit: a text's chart with a change applied, and nothing else changed.</summary>
internal static class ChartTarget
{
    /// <summary>Creates the target from the text's chart and the difference of two charts.</summary>
    /// <param name="said">The chart in the text.</param>
    /// <param name="before">The chart before the change: the same, or with levels set that the text leaves open.</param>
    /// <param name="now">The chart after the change.</param>
    /// <exception cref="ChartProblemException">Tempi, joins or lengths cannot be played.</exception>
    public static Chart Of(Chart said, Chart before, Chart now)
    {
        var rounded = Of(said, before, now, mark => mark.Rounded());
        var exact = Of(said, before, now, mark => mark);

        // Near a limit a rounded tempo may be out of range, or may turn what is counted.
        var saysLevels = now.Sections.Any(section => section.Feel is not null || section.Counted is not null);
        return !CanBePlayed(rounded) ? WithLevels(exact, now)
            : saysLevels ? WithLevels(rounded, now)
            : CanBePlayed(exact) ? WithLevels(rounded, exact.WithLevelsSaid())
            : rounded;
    }

    private static Chart Of(Chart said, Chart before, Chart now, Func<TempoMark, TempoMark> number)
    {
        var was = SectionsBefore(before.Sections, now.Sections);
        var text = SectionsBefore(said.Sections, before.Sections);
        return now with
        {
            Title = string.IsNullOrWhiteSpace(now.Title) ? "Untitled" : now.Title.Trim(),
            Trains = string.IsNullOrWhiteSpace(now.Trains) ? null : now.Trains.Trim(),
            Tempo = before.Tempo == now.Tempo || IsSameInTheFirstBar(before, now) ? said.Tempo : number(now.Tempo),
            LearnerTempo = before.LearnerTempo == now.LearnerTempo ? said.LearnerTempo : Numbered(now.LearnerTempo, number),
            Feel = before.Feel == now.Feel ? said.Feel : now.Feel,
            Counted = before.Counted == now.Counted ? said.Counted : now.Counted,
            EndingChord = now.Ending ? now.EndingChord : null,
            Sections =
            [
                .. now.Sections.Select((section, i) => was[i] is { } index && text[index] is { } found
                    ? Section(said.Sections[found], before.Sections[index], section, number)
                    : section with { Tempo = Numbered(section.Tempo, number), Ramps = Numbered(section.Ramps, number), Playing = InOrder(section.Playing) }),
            ],
        };
    }

    // A change of the meter makes a tempo in bars one in units; back in the first meter, it is the old one.
    private static bool IsSameInTheFirstBar(Chart before, Chart now)
    {
        var (was, meter) = (FirstMeter(before), FirstMeter(now));
        return was == meter && before.Tempo.Level is TempoLevel.Bar or TempoLevel.Unit && now.Tempo.Level is TempoLevel.Note
            && before.Tempo.At(was, was.Length) == now.Tempo.At(meter, meter.Length);
    }

    private static BarMeter FirstMeter(Chart chart) => chart.Sections[chart.Form[0].Section].Bars[0].Meter;

    private static TempoMark? Numbered(TempoMark? mark, Func<TempoMark, TempoMark> number) => mark is { } tempo ? number(tempo) : null;

    private static TempoChange? Numbered(TempoChange? change, Func<TempoMark, TempoMark> number) => change is null ? null : change with
    {
        From = Numbered(change.From, number),
        To = Numbered(change.To, number),
        After = Numbered(change.After, number),
    };

    private static IReadOnlyList<TempoRise> Numbered(IReadOnlyList<TempoRise> ramps, Func<TempoMark, TempoMark> number) =>
        ramps.Count == 0 ? ramps : [.. ramps.Select(ramp => ramp with { To = number(ramp.To), After = Numbered(ramp.After, number) })];

    private static TempoAfter? Numbered(TempoAfter? after, Func<TempoMark, TempoMark> number) =>
        after is { Mark: { } mark } ? new TempoAfter(number(mark)) : after;

    private static bool CanBePlayed(Chart chart)
    {
        try
        {
            _ = new FormPlan(chart);
            _ = chart.LearnerTempo is { } learner ? new FormPlan(chart with { Tempo = learner }) : null;
            return true;
        }
        catch (ChartProblemException)
        {
            return false;
        }
    }

    /// <summary>The old section for each section: with the same name, or with the same bars or tune under another name.</summary>
    public static int?[] SectionsBefore(IReadOnlyList<Section> before, IReadOnlyList<Section> now)
    {
        var byName = new Dictionary<string, int>(StringComparer.OrdinalIgnoreCase);
        for (var i = 0; i < before.Count; i++)
        {
            byName.TryAdd(before[i].Name.Trim(), i);
        }

        var was = now.Select(section => byName.TryGetValue(section.Name.Trim(), out var index) ? (int?)index : null).ToArray();
        var left = new LinkedList<int>(Enumerable.Range(0, before.Count).Except(was.OfType<int>()));
        for (var i = 0; i < now.Count && left.Count > 0; i++)
        {
            for (var node = left.First; was[i] is null && node is not null; node = node.Next)
            {
                if (IsRenamed(before[node.Value], now[i]))
                {
                    was[i] = node.Value;
                    left.Remove(node);
                    break;
                }
            }
        }

        return was;
    }

    private static bool IsRenamed(Section before, Section now) =>
        SameChart.Bars(before.Bars, now.Bars) || (before.Tune is not null && before.Tune.Equals(now.Tune));

    private static Section Section(Section said, Section before, Section now, Func<TempoMark, TempoMark> number) => now with
    {
        Name = now.Name.Trim(),
        Bars = SameChart.Bars(before.Bars, now.Bars) ? said.Bars : now.Bars,
        Endings = SameChart.Endings(before.Endings, now.Endings) ? said.Endings : now.Endings,
        Tempo = before.Tempo == now.Tempo ? said.Tempo : Numbered(now.Tempo, number),
        Ramps = before.Ramps.SequenceEqual(now.Ramps) ? said.Ramps : Numbered(now.Ramps, number),
        Feel = before.Feel == now.Feel ? said.Feel : now.Feel,
        Counted = before.Counted == now.Counted ? said.Counted : now.Counted,
        Tune = Equals(before.Tune, now.Tune) ? said.Tune : now.Tune,
        Playing = InOrder(now.Playing),
    };

    private static IReadOnlyList<int>? InOrder(IReadOnlyList<int>? playing) => playing is null ? null : [.. playing.Distinct().Order()];

    // A level derived from meter and tempo is written out if it would change.
    private static Chart WithLevels(Chart target, Chart now)
    {
        if (!now.Sections.Any(section => section.Feel is not null || section.Counted is not null))
        {
            return target;
        }

        var found = target.WithLevelsSaid();
        return target with
        {
            Sections =
            [
                .. target.Sections.Select((section, i) => section with
                {
                    Counted = Level(now.Sections[i].Counted, found.Sections[i].Counted) ?? section.Counted,
                    Feel = Level(now.Sections[i].Feel, found.Sections[i].Feel) ?? section.Feel,
                }),
            ],
        };
    }

    private static T? Level<T>(T? wanted, T? found)
        where T : struct => found is { } level && wanted is { } other && !level.Equals(other) ? wanted : null;
}
