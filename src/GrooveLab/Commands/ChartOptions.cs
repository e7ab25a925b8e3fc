using System.CommandLine;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>The options by which several commands say which bars of a chart are meant, and how they are to be played.</summary>
internal sealed class ChartOptions
{
    private const string Learner = "learner";

    private readonly Option<int?> _bars = new("--bars")
    {
        Description = "How many bars; the form goes round as often as needed and has no ending. Without it: the whole form with its ending.",
        HelpName = "N",
    };

    private readonly Option<string?> _seed = new("--seed")
    {
        Description = "A whole number from which the band's small liberties come; the same number, the same bars.",
        HelpName = "N",
    };

    private readonly Option<string?> _feel = new("--feel")
    {
        Description = "Which level is felt as the beat: unit, group, bar or bar-group.",
        HelpName = "LEVEL",
    };

    private readonly Option<string?> _tempo = new("--tempo")
    {
        Description = "Begin at this tempo, such as \"bar = 45\" or \"eighth = 220\"; 80% is four fifths of the chart's, learner the one it gives to begin with.",
        HelpName = "TEMPO",
    };

    private readonly Option<string?> _key = new("--key") { Description = "Move the chart into this key, the nearer way.", HelpName = "KEY" };

    private readonly Option<int?> _up = new("--up")
    {
        Description = "Move the chart up by so many half steps; negative moves it down.",
        HelpName = "N",
    };

    public ChartOptions(Command command)
    {
        _feel.AcceptOnlyFromAmong("unit", "group", "bar", "bar-group");
        OptionRanges.Whole(_bars, 1, FormPlan.MostBars);
        OptionRanges.Whole(_up, -24, 24);
        All = [_bars, _seed, _tempo, _feel, _key, _up];
        foreach (var option in All)
        {
            command.Options.Add(option);
        }
    }

    /// <summary>The options themselves.</summary>
    public IReadOnlyList<Option> All { get; }

    public int? Bars(ParseResult parsed) => parsed.GetValue(_bars);

    /// <summary>The chart as the options want it.</summary>
    public Chart Apply(Chart chart, ParseResult parsed)
    {
        var up = parsed.GetValue(_up);
        if (parsed.GetValue(_key) is { } wanted)
        {
            if (up is not null)
            {
                throw CommandFailure.BadInput("--key and --up both say where to move the chart; give one of them");
            }

            if (!Key.TryParse(wanted, out var key, out var problem))
            {
                throw CommandFailure.BadInput("--key: " + problem);
            }

            chart = chart.Transposed(chart.Key.To(key));
        }
        else if (up is { } semitones && semitones != 0)
        {
            chart = chart.Transposed(chart.Key.IntervalUp(semitones));
        }

        foreach (var part in chart.Parts.Where(part => !chart.CanPlayTune(part)))
        {
            Console.Error.WriteLine($"groovelab: in {chart.Key} the tune leaves the range of the {part.Instrument.Name}; move it elsewhere, or let another instrument play it");
        }

        if (parsed.GetValue(_tempo) is { } tempo)
        {
            chart = AtTempo(chart, tempo.Trim());
        }

        return FeltLevels.TryParse(parsed.GetValue(_feel), out var felt) ? chart.FeltAs(felt) : chart;
    }

    /// <summary>The chart with the seed that the options say.</summary>
    public Chart Seeded(Chart chart, ParseResult parsed) => Seed(parsed) is { } seed ? chart with { Seed = seed } : chart;

    private ulong? Seed(ParseResult parsed) => parsed.GetValue(_seed) is not { } text
        ? null
        : ulong.TryParse(text, out var number)
            ? number
            : throw CommandFailure.BadInput($"--seed: '{text}' is not a whole number from 0 to {ulong.MaxValue}");

    private static Chart AtTempo(Chart chart, string tempo)
    {
        if (string.Equals(tempo, Learner, StringComparison.OrdinalIgnoreCase))
        {
            return chart.AtTempo(chart.LearnerTempo
                ?? throw CommandFailure.BadInput("--tempo learner: the chart gives no learner-tempo; say one, such as --tempo \"bar = 40\" or --tempo 70%"));
        }

        if (tempo.EndsWith('%'))
        {
            return Rational.TryParse(tempo[..^1].Trim(), out var percent) && percent >= 5 && percent <= 500 && percent.Denominator <= 1000
                ? chart.AtPace(percent / 100)
                : throw CommandFailure.BadInput($"--tempo: '{tempo}' is not a share of the tempo from 5% to 500%");
        }

        return TempoText.TryMark(tempo, out var mark, out var problem)
            ? chart.AtTempo(mark)
            : throw CommandFailure.BadInput($"--tempo: {problem}; {TempoText.Accepted}, 80% or {Learner}");
    }

    /// <summary>The band for a chart as the options want it.</summary>
    public BarComposer Compose(Chart chart, ParseResult parsed, bool countIn, bool endless = false)
    {
        var seed = Seed(parsed);
        try
        {
            return new BarComposer(Apply(chart, parsed), new ComposerOptions
            {
                Seed = seed,
                Bars = Bars(parsed),
                CountIn = countIn,
                Endless = endless && Bars(parsed) is null,
            });
        }
        catch (ChartProblemException problem)
        {
            throw CommandFailure.BadInput(problem.Section is null ? problem.Message : $"section {problem.Section}: {problem.Message}");
        }
    }
}
