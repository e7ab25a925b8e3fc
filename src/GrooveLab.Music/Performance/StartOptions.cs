using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Performance;

/// <summary>How a performance differs from its chart file from the start: another key, tempo, feel, random seed, no count-in.</summary>
public sealed record StartOptions
{
    private const string Learner = "learner";

    /// <summary>The chart as it is in the file.</summary>
    public static StartOptions None { get; } = new();

    /// <summary>The key to transpose to, by the smaller interval; null for none.</summary>
    public Key? Key { get; init; }

    /// <summary>Half steps up; negative goes down.</summary>
    public int HalfSteps { get; init; }

    /// <summary>The tempo at the start; null for the chart's.</summary>
    public TempoMark? Tempo { get; init; }

    /// <summary>The tempo at the start as a player would type it, in felt beats or as a step; null for the chart's.</summary>
    public TempoGoal? Goal { get; init; }

    /// <summary>True for the chart's tempo for learners.</summary>
    public bool AtLearnerTempo { get; init; }

    /// <summary>The factor for all tempi, above zero.</summary>
    public Rational Pace { get; init; } = Rational.One;

    /// <summary>The felt level; null for the chart's.</summary>
    public FeltLevel? Feel { get; init; }

    /// <summary>The random seed; null for the chart's.</summary>
    public ulong? Seed { get; init; }

    /// <summary>The parts that are silent from the start, by name, instrument or role, in addition to the chart's own.</summary>
    public ValueList<string> Without { get; init; } = [];

    /// <summary>True to count in.</summary>
    public bool CountIn { get; init; } = true;

    /// <summary>The number of bars to play, repeating the form; null to play on.</summary>
    public int? Bars { get; init; }

    /// <summary>True to end by itself after as many times through the form as the chart says; false to repeat the form without end, as earlier
    /// versions did.</summary>
    public bool Ends { get; init; }

    /// <summary>All of them but the random seed, in words: "key E", "tempo 80%". <see cref="With"/> reads each.</summary>
    public IReadOnlyList<string> Words
    {
        get
        {
            var words = new List<string>();
            void Say(bool isGiven, string said)
            {
                if (isGiven)
                {
                    words.Add(said);
                }
            }

            Say(Key is not null, $"key {Key}");
            Say(HalfSteps != 0, $"up {ChangeWords.Plain(HalfSteps)}");
            Say(Tempo is not null, Tempo is { } mark ? $"tempo {NameOf(mark)} = {mark.PerMinute}" : string.Empty);
            Say(Goal is not null, $"tempo {Goal}");
            Say(AtLearnerTempo, $"tempo {Learner}");
            Say(Pace != Rational.One, $"tempo {Pace * 100}%");
            Say(Feel is not null, $"feel {Feel?.Name()}");
            foreach (var part in Without)
            {
                Say(isGiven: true, $"without {part}");
            }

            Say(!CountIn, "count-in off");
            Say(Bars is not null, $"bars {Bars}");
            Say(Ends, "round off");
            return words;
        }
    }

    /// <summary>These options and another one in words.</summary>
    /// <exception cref="FormatException">The words are not an option.</exception>
    public StartOptions With(string words)
    {
        var (name, rest) = words.Split(' ', 2) is [var first, var second] ? (first, second) : (words, string.Empty);
        switch (name)
        {
            case "key" when Harmony.Key.TryParse(rest, out var key, out _):
                return this with { Key = key };
            case "up" when int.TryParse(rest, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var steps):
                return this with { HalfSteps = steps };
            case "tempo" when rest == Learner:
                return this with { AtLearnerTempo = true };
            case "tempo" when rest.EndsWith('%') && Rational.TryParse(rest[..^1], out var percent) && percent.Sign > 0:
                return this with { Pace = percent / 100 };
            case "tempo" when rest.Split(" = ") is [var beat, var number] && Rational.TryParse(number, out var perMinute):
                return this with { Tempo = MarkOf(beat, perMinute) };
            case "tempo":
                return this with { Goal = GoalOf(rest) };
            case "feel" when FeltLevels.TryParse(rest, out var felt):
                return this with { Feel = felt };
            case "without" when rest.Length > 0:
                return this with { Without = [.. Without, rest] };
            case "bars" when int.TryParse(rest, NumberStyles.None, CultureInfo.InvariantCulture, out var bars) && bars > 0:
                return this with { Bars = bars };
            case "count-in" when rest == "off":
                return this with { CountIn = false };
            case "round" when rest == "off":
                return this with { Ends = true };
            default:
                throw new FormatException($"{Wording.Words.Quote(words)} is not an option of a performance");
        }
    }

    /// <summary>The chart with these options.</summary>
    /// <exception cref="ChartProblemException">It has no tempo for learners, or the tempo is out of range.</exception>
    public Chart ApplyTo(Chart chart)
    {
        if (Key is { } key)
        {
            chart = chart.Transposed(chart.Key.To(key));
        }

        if (HalfSteps != 0)
        {
            chart = chart.Transposed(chart.Key.IntervalUp(HalfSteps));
        }

        if (AtLearnerTempo)
        {
            chart = chart.AtTempo(chart.LearnerTempo ?? throw new ChartProblemException("the chart has no learner-tempo; give a tempo, such as \"bar = 40\" or 70%"));
        }

        if (Tempo is { } mark)
        {
            chart = chart.AtTempo(mark);
        }

        chart = chart.AtPace(Pace);
        chart = Feel is { } felt ? chart.FeltAs(felt) : chart;
        chart = Goal is { } goal ? AtGoal(chart, goal) : chart;
        return Seed is { } seed ? chart with { Seed = seed } : chart;
    }

    /// <summary>The state of a performance of the chart at its start.</summary>
    /// <exception cref="ChartProblemException">It cannot be played.</exception>
    public PerformanceState Opening(Chart chart, InstrumentCatalogue instruments)
    {
        var state = PerformanceState.Opening(ApplyTo(chart), instruments);
        return state with { CountIn = CountIn, Muted = state.Muted.Union(Silent(chart.Parts)), Orders = OrdersFor(chart) };
    }

    /// <summary>The orders for the form of a chart at the start.</summary>
    public FormOrders OrdersFor(Chart chart) => new() { EndBar = Bars, Passes = Ends ? chart.Times : null };

    /// <summary>The names of the parts that are silent from the start.</summary>
    /// <exception cref="ChartProblemException">No part has one of the given names.</exception>
    public IEnumerable<string> Silent(IReadOnlyList<Part> parts)
    {
        foreach (var name in Without)
        {
            if (!parts.Any(part => part.IsCalled(name)))
            {
                throw new ChartProblemException(
                    $"no part called {Wording.Words.Quote(name)}; parts and their roles: {string.Join(", ", parts.Select(part => $"{part.Name} ({part.Role.Name()})"))}");
            }
        }

        return parts.Where(part => part.Silent || Without.Any(part.IsCalled)).Select(part => part.Name);
    }

    private static Chart AtGoal(Chart chart, TempoGoal goal)
    {
        var bar = new FormPlan(chart).BarAt(0);
        try
        {
            return chart.AtPace(goal.In(bar, bar.Tempo).WholesPerMinute / bar.Tempo.WholesPerMinute);
        }
        catch (ChangeRefusedException refused)
        {
            throw new ChartProblemException(refused.Message);
        }
    }

    private static TempoGoal GoalOf(string words)
    {
        try
        {
            return TempoGoal.Read(words);
        }
        catch (ChangeRefusedException refused)
        {
            throw new FormatException(refused.Message, refused);
        }
    }

    private static string NameOf(TempoMark mark) => mark.Level switch
    {
        TempoLevel.Note => NoteValue.NameOf(mark.Note),
        TempoLevel.Unit => "unit",
        TempoLevel.Group => "group",
        TempoLevel.Bar => "bar",
        _ => "bar group",
    };

    private static TempoMark MarkOf(string beat, Rational perMinute) => beat switch
    {
        "unit" => new TempoMark(TempoLevel.Unit, Span.Zero, perMinute),
        "group" => new TempoMark(TempoLevel.Group, Span.Zero, perMinute),
        "bar" => new TempoMark(TempoLevel.Bar, Span.Zero, perMinute),
        "bar group" => new TempoMark(TempoLevel.BarGroup, Span.Zero, perMinute),
        _ => NoteValue.TryParse(beat, out var note)
            ? new TempoMark(TempoLevel.Note, note, perMinute)
            : throw new FormatException($"{Wording.Words.Quote(beat)} is not a beat"),
    };
}
