using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>The whole content of a chart, one item per line: charts are equal when these lines are.</summary>
internal static class ChartDescription
{
    public static string Of(Chart chart) => string.Join('\n', Lines(chart));

    private static IEnumerable<string> Lines(Chart chart)
    {
        yield return $"{chart.Title}|{chart.Key}|{chart.Tempo.Level} {chart.Tempo.Note} {chart.Tempo.PerMinute}|{chart.Counted}|{chart.Feel}";
        yield return $"{chart.Times}|{chart.Ending}|{chart.EndingChord?.Text}|{chart.Seed}|{chart.Looseness:R}|{chart.IsArranged}";
        yield return $"{chart.Swing}|{chart.DroneSeconds}|{chart.Trains}|{Tempo(chart.LearnerTempo)}";
        yield return string.Join(' ', chart.Form.Select(Step)) + " tag " + string.Join(' ', chart.Tag.Select(Step));
        foreach (var part in chart.Parts)
        {
            yield return $"{part.Name}|{part.Role}|{part.Instrument.Name}|{part.Lowest}-{part.Highest}|{part.LevelDecibels:R}|{part.Pan}|{part.Silent}|{Settings(part.Settings)}";
        }

        foreach (var section in chart.Sections)
        {
            yield return $"{section.Name}|{section.BarGroups}|{section.Feel}|{section.Counted}|{section.Key}|{section.StopTime}|{section.BreakBars}|{section.HoldSeconds}|{section.Vamp}|{(section.Playing is { } playing ? string.Join(' ', playing) : "all")}|{Orders(section.Orders)}";
            yield return $"{Tempo(section.Tempo?.From)} to {Tempo(section.Tempo?.To)} over {section.Tempo?.OverBars}{After(section.Tempo?.After)}|{section.Join}";
            foreach (var ramp in section.Ramps)
            {
                yield return $"ramp {Tempo(ramp.To)} in {ramp.First}-{ramp.Last}{After(ramp.After)}";
            }

            foreach (var line in Music(section.Bars, section.Tune).Concat(section.Endings.SelectMany(ending => Music(ending.Bars, ending.Tune).Prepend("ending"))))
            {
                yield return line;
            }
        }
    }

    private static string Orders(SectionOrders? orders) => orders is null ? "-"
        : $"{string.Join(' ', orders.Energies)}|{string.Join(' ', orders.Tasks.Select(one => $"{one.Part}: {string.Join(' ', one.Tasks)}"))}|{orders.Fill}";

    private static IEnumerable<string> Music(IReadOnlyList<ChartBar> bars, Tune? written)
    {
        foreach (var bar in bars)
        {
            yield return $"{bar.Meter}|{bar.Inserted}|{string.Join(' ', bar.Chords.Select(chord => $"{chord.Onset}:{chord.Length}:{chord.Symbol.Text}"))}";
        }

        foreach (var tune in written is null ? [] : written.Lines.Prepend(written.Melody))
        {
            yield return tune.Name;
            yield return string.Join(' ', tune.Notes.Select(note => $"{note.Onset}:{note.Length}:{string.Concat(note.Graces)}>{note.Pitch}"));
            foreach (var verse in tune.Verses)
            {
                yield return string.Join('|', verse.Select(syllable => syllable?.ToString() ?? "*"));
            }
        }
    }

    private static string Step(FormStep step) => $"{step.Section}x{step.Times} up {step.Up} ending {step.Ending}";

    private static string After(TempoAfter? after) => after is { } then ? $" then {Tempo(then.Mark)}" : string.Empty;

    private static string Tempo(TempoMark? mark) => mark is { } tempo ? $"{tempo.Level} {tempo.Note} {tempo.PerMinute}" : "none";

    private static string Settings(RoleSettings settings) => settings.ToString();
}
