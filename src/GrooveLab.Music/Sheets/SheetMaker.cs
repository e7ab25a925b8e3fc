using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Sheets;

/// <summary>Makes the sheets of a band. Pure: the same band gives the same sheets.</summary>
public sealed class SheetMaker
{
    // Meters beyond these are rare and would fill pages with patterns.
    private const int MostMeters = 12;

    private readonly BarComposer _band;
    private readonly FormPlan _plan;
    private readonly List<SectionRun> _runs;
    private readonly List<(int Section, int Up)> _letters;
    private readonly List<(BarMeter Meter, FeltLevel Felt)> _meters = [];

    /// <summary>Prepares the sheets of a band.</summary>
    /// <param name="band">The band; one that plays a number of bars has the form up to there.</param>
    public SheetMaker(BarComposer band)
    {
        _band = band;
        _plan = band.Plan;
        var passes = _plan.BarsInPass;
        var bars = band.Options.Bars;
        _runs = [.. _plan.Runs.Where(run => bars is null ? run.FirstBar < passes || band.Chart.Tag.Count > 0 : run.FirstBar < Math.Min(bars.Value, passes))];
        _letters = [.. _runs.Select(run => (run.SectionIndex, run.Up)).Distinct()];
        foreach (var place in _runs.SelectMany(Places))
        {
            if (!_meters.Exists(known => known.Meter.Equals(place.Meter)))
            {
                _meters.Add((place.Meter, place.Felt));
            }
        }
    }

    /// <summary>The sheet for the whole band.</summary>
    public Sheet Sheet()
    {
        var first = _plan.BarAt(0);
        var chart = _band.Chart;
        return new Sheet(
            chart.Title,
            chart.Key,
            Tempi(first),
            Felt(first),
            Form(),
            _band.Options.Bars is null ? chart.Times : 1,
            _band.EndingBar is null ? "stop at the last bar line" : $"{(chart.EndingChord ?? ChordOfTheEnd()).Text} rings",
            [.. _letters.Select(SectionOf)],
            [.. Enumerable.Range(0, chart.Parts.Count).Select(PartOf)],
            [.. _meters.Take(MostMeters).Select(one => Beating.Of(one.Meter, one.Felt))]);
    }

    /// <summary>What a part does in the form, in order; equal playings of a section in succession are one step.</summary>
    /// <param name="part">The index of the part in the band.</param>
    /// <exception cref="ArgumentOutOfRangeException">The band has no such part.</exception>
    public IReadOnlyList<PlayerStep> StepsOf(int part)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(part);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(part, _band.Chart.Parts.Count);
        var steps = new List<PlayerStep>();
        var end = _band.Options.Bars ?? _plan.Bars;
        for (var bar = 0; bar < end;)
        {
            var run = _plan.BarAt(bar).Run;
            bar = run.EndBar;
            var step = StepOf(run, part);
            if (steps.Count > 0 && steps[^1] is var before && before with { To = step.To, From = step.From, FirstBar = step.FirstBar } == step && before.To == step.From - 1)
            {
                steps[^1] = before with { To = step.To };
            }
            else
            {
                steps.Add(step);
            }
        }

        return steps;
    }

    /// <summary>The letter of a run's section.</summary>
    internal string LetterOf(SectionRun run) => SheetWords.Letter(Math.Max(0, _letters.IndexOf((run.SectionIndex, run.Up))));

    /// <summary>A bar of the form on paper.</summary>
    internal static SheetBar BarOf(BarPlace place, BarPlace? before) =>
        new(place.Index + 1, place.Meter, place.Chords, place.GroupPlace.IsFirst) { Marks = [.. Marks(place, before)], Stop = place.Stop };

    /// <summary>The bars of a run.</summary>
    internal IEnumerable<BarPlace> Places(SectionRun run) => Enumerable.Range(run.FirstBar, run.Bars).Select(_plan.BarAt);

    /// <summary>What is said about a run: its meter, its key and tempo where they differ from those of the chart's start, who plays.</summary>
    internal IEnumerable<string> Facts(SectionRun run)
    {
        var (first, place) = (_plan.BarAt(0), _plan.BarAt(run.FirstBar));
        var section = run.Section;
        var meters = MeterRound.Of(section.Bars);
        yield return string.Join(", then ", meters.Take(4).Select(Meter)) + (meters.Count > 4 ? " …" : string.Empty);
        yield return Words.Count(run.Bars, "bar");
        if (!run.Key.Equals(first.Run.Key))
        {
            yield return $"in {run.Key}";
        }

        if (run.FirstBar > 0 && !IsNear(place.Tempo, first.Tempo))
        {
            yield return SheetWords.Tempo(place.Tempo, place.Meter.Unit, NoteValue.NameOf(place.Meter.Unit));
        }

        if (place.Felt != first.Felt && run.FirstBar > 0)
        {
            yield return $"felt {Felt(place)}";
        }

        if (section.Playing is { } playing)
        {
            yield return playing.Count == 0 ? "the band rests" : $"only {Words.And([.. playing.Select(part => _band.Chart.Parts[part].Name)])}";
        }

        if (section.StopTime)
        {
            yield return "stop-time: the band strikes the downbeats only";
        }

        if (section.Vamp)
        {
            yield return "vamp: again and again until the bandleader goes on";
        }
    }

    /// <summary>A meter as it stands on a sheet: "5/8 3+2"; an undivided bar has no grouping.</summary>
    public static string Meter(BarMeter meter) => meter.Grouping.IsUndivided ? meter.Signature.ToString() : meter.ToString();

    private static bool IsNear(Tempo one, Tempo other) =>
        Math.Abs(one.WholesPerMinute.ToDouble() - other.WholesPerMinute.ToDouble()) < 0.001 * other.WholesPerMinute.ToDouble();

    private static IReadOnlyList<string> Tempi(BarPlace first)
    {
        var meter = first.Meter;
        var tempi = new List<string> { SheetWords.Tempo(first.Tempo, meter.Unit, NoteValue.NameOf(meter.Unit)) };
        if (!meter.Grouping.IsUndivided && meter.GroupSizes.Distinct().Count() == 1 && meter.GroupSizes[0] > 1)
        {
            var group = meter.Unit * meter.GroupSizes[0];
            tempi.Add(SheetWords.Tempo(first.Tempo, group, char.IsAsciiDigit(NoteValue.NameOf(group)[0]) ? "group" : NoteValue.NameOf(group)));
        }

        if (meter.Units > 1)
        {
            tempi.Add(SheetWords.Tempo(first.Tempo, meter.Length, "bar"));
        }

        return tempi;
    }

    private static string Felt(BarPlace place) => place.Felt switch
    {
        FeltLevel.Unit => $"in {SheetWords.Number(place.Meter.Units)}",
        FeltLevel.Group => Beating.Words(place.Meter.GroupSizes),
        FeltLevel.Bar => "in one",
        _ => "several bars as one",
    };

    private Harmony.ChordSymbol ChordOfTheEnd()
    {
        var bar = _band.BarAt(_band.EndingBar!.Value);
        return bar.Chords[0].Symbol;
    }

    private List<SheetStep> Form()
    {
        var steps = new List<SheetStep>();
        var endings = new List<int>();
        for (var i = 0; i < _runs.Count; i++)
        {
            var run = _runs[i];
            var isTag = run.FirstBar >= _plan.BarsInPass * _band.Chart.Times && _band.Chart.Tag.Count > 0;
            var letter = LetterOf(run);
            if (steps.Count > 0 && steps[^1].Letter == letter && steps[^1].IsTag == isTag)
            {
                steps[^1] = steps[^1] with { Times = steps[^1].Times + 1 };
            }
            else
            {
                steps.Add(new SheetStep(letter, run.Section.Name, 1, isTag));
                endings.Clear();
            }

            if (run.Ending > 0)
            {
                endings.Add(run.Ending);
                steps[^1] = steps[^1] with { Endings = "ending " + string.Join(", ", endings.Distinct()) };
            }
        }

        return steps;
    }

    private SheetSection SectionOf((int Section, int Up) which, int index)
    {
        var runs = _runs.Where(run => (run.SectionIndex, run.Up) == which).ToList();
        var first = runs[0];
        var common = first.Ending > 0 ? first.EndingAt : first.Bars;
        var endings = runs.Where(run => run.Ending > 0).DistinctBy(run => run.Ending).OrderBy(run => run.Ending)
            .Select(run => new SheetEnding(run.Ending, Bars(run, run.EndingAt, run.Bars))).ToList();
        return new SheetSection(SheetWords.Letter(index), first.Section.Name, [.. Facts(first)], Bars(first, 0, common), endings);
    }

    private List<SheetBar> Bars(SectionRun run, int from, int end)
    {
        var bars = new List<SheetBar>();
        for (var i = from; i < end; i++)
        {
            bars.Add(BarOf(_plan.BarAt(run.FirstBar + i), i == 0 ? null : _plan.BarAt(run.FirstBar + i - 1)));
        }

        return bars;
    }

    private static IEnumerable<string> Marks(BarPlace place, BarPlace? before)
    {
        if (before is not null && !before.Meter.Equals(place.Meter))
        {
            yield return Meter(place.Meter);
        }

        var rampsNow = IsRamp(place);
        if (before is not null && !IsNear(place.Tempo, EndTempo(before)) && !IsRamp(before))
        {
            yield return SheetWords.Tempo(place.Tempo, place.Meter.Unit, NoteValue.NameOf(place.Meter.Unit));
        }
        else if (before is not null && IsRamp(before) && !IsNear(place.Tempo, EndTempo(before)) && !rampsNow)
        {
            yield return "a tempo";
        }

        if (rampsNow && (before is null || !IsRamp(before)))
        {
            yield return EndTempo(place) < place.Tempo ? "slowing down" : "speeding up";
        }

        switch (place.Stop)
        {
            case BandStop.Strike when !place.Run.Section.StopTime:
                yield return "strike, then rest";
                break;
            case BandStop.Rest:
                yield return "band rests";
                break;
            case BandStop.Hold:
                yield return $"hold {place.Run.Section.HoldSeconds.ToString(CultureInfo.InvariantCulture)} s";
                break;
        }
    }

    private static bool IsRamp(BarPlace place) => place.Stop != BandStop.Hold && place.Tempi.Count > 1;

    private static Tempo EndTempo(BarPlace place) => place.Stop == BandStop.Hold ? place.Tempo : place.Tempi[^1].Tempo;

    private SheetPart PartOf(int index)
    {
        var part = _band.Chart.Parts[index];
        return new SheetPart(
            part.Name, part.Instrument.Name, RoleLines.Of(part), RoleLines.Level(part), PartPatterns.Of(_band, index, [.. _meters.Take(MostMeters).Select(one => one.Meter)], _runs));
    }

    private PlayerStep StepOf(SectionRun run, int part)
    {
        var plan = _band.Arrangement.PlanOf(run, run.Verse);
        var own = _band.Chart.Parts[part];
        var role = own.Role;
        var task = part < plan.Tasks.Count ? plan.Tasks[part] : PartTask.Plays;
        var isOut = run.Section.Playing is { } playing && role != Role.Count && !playing.Contains(part);
        var lines = role == Role.Tune ? TunePlayers.LinesOf(run.Section, _band.Chart.Parts, part) : [];
        var rests = isOut || task == PartTask.Rests || (role == Role.Tune && lines.Count == 0);
        var text = rests ? "rests"
            : role == Role.Tune ? "plays " + Words.And([.. lines.Select(line => line == 0 ? "the tune" : $"the line {run.Section.Tune!.Voice(line)!.Name}")])
            : run.Section.StopTime && role != Role.Count ? "strikes the downbeats only"
            : task switch
            {
                PartTask.Thin => "plays less",
                PartTask.OffBeats => "plays between the units only",
                PartTask.High => "plays high",
                PartTask.Full => "plays full",
                PartTask.Fill => "plays a fill",
                PartTask.Pickup => "leads on",
                PartTask.Break => "strikes and rests",
                _ => "plays",
            };
        return new PlayerStep(LetterOf(run), run.Section.Name, run.Verse + 1, run.Verse + 1, run.Bars, text, plan.Energy, rests ? string.Empty : AtEnd(run, plan, part))
        {
            FirstBar = run.FirstBar + 1,
            Rests = rests,
        };
    }

    private string AtEnd(SectionRun run, RunPlan plan, int part)
    {
        var words = new List<string>();
        var isBand = _band.Chart.Parts[part].Role is Role.Pulse or Role.Roll or Role.Bass or Role.Sustain;
        if (isBand && plan.Breaks)
        {
            words.Add("last bar: strike and rest");
        }
        else
        {
            words.AddRange(plan.Fills.Where(fill => fill.Part == part).Select(fill => fill.Task == PartTask.Fill ? "last bar: fill" : "last bar: lead on"));
        }

        if (isBand && run.Section.BreakBars > 0)
        {
            words.Add($"break in the last {Words.Count(run.Section.BreakBars, "bar")}");
        }

        if (run.Section.HoldSeconds > 0)
        {
            words.Add($"hold the last bar for {run.Section.HoldSeconds.ToString(CultureInfo.InvariantCulture)} s");
        }

        if (plan.Rises != 0 && isBand && !plan.Breaks)
        {
            words.Add(plan.Rises > 0 ? "grow louder in the last two bars" : "settle in the last two bars");
        }

        return string.Join("; ", words);
    }
}
