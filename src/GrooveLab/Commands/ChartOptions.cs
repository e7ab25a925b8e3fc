using System.CommandLine;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>The options shared by several commands: which bars of a chart to play, and how.</summary>
internal sealed class ChartOptions
{
    private const string Learner = "learner";

    private readonly Option<int?> _bars = new("--bars")
    {
        Description = "Bars, repeating the form. Default: the whole form.",
        HelpName = "N",
    };

    private readonly Option<string?> _seed = new("--seed")
    {
        Description = "Random seed; the same seed gives the same performance.",
        HelpName = "N",
    };

    private readonly Option<string?> _feel = new("--feel")
    {
        Description = "Felt beat: unit, group, bar or bar-group.",
        HelpName = "LEVEL",
    };

    private readonly Option<string?> _tempo = new("--tempo")
    {
        Description = "Starting tempo: \"bar = 45\", 80% or learner (slower).",
        HelpName = "TEMPO",
    };

    private readonly Option<string?> _key = new("--key") { Description = "Transpose to this key by the smaller interval.", HelpName = "KEY" };

    private readonly Option<string?> _up = new("--up")
    {
        Description = "Transpose up by half steps, -2, or \"a tone\".",
        HelpName = "N",
    };

    public ChartOptions(Command command)
    {
        _feel.AcceptOnlyFromAmong("unit", "group", "bar", "bar-group");
        Completion.With(_tempo, Learner, "50%", "70%", "80%", "90%", "110%");
        Completion.WithKeys(_key);
        OptionRanges.Whole(_bars, 1, FormPlan.MostBars);
        OptionRanges.HalfSteps(_up, -24, 24);
        All = [_bars, _seed, _tempo, _feel, _key, _up];
        foreach (var option in All)
        {
            command.Options.Add(option);
        }
    }

    /// <summary>The options.</summary>
    public IReadOnlyList<Option> All { get; }

    public int? Bars(ParseResult parsed) => parsed.GetValue(_bars);

    public bool HasTempo(ParseResult parsed) => parsed.GetValue(_tempo) is not null;

    /// <summary>The options as values.</summary>
    /// <exception cref="CommandFailure">One of them is wrong; the message says how.</exception>
    public StartOptions Start(ParseResult parsed)
    {
        var start = new StartOptions { Seed = Seed(parsed), HalfSteps = parsed.GetValue(_up) is { } up && HalfSteps.TryParse(up, out var steps) ? steps : 0 };
        if (parsed.GetValue(_key) is { } wanted)
        {
            if (parsed.GetValue(_up) is not null)
            {
                throw CommandFailure.BadInput("--key and --up both transpose the chart; use only one of them");
            }

            start = Key.TryParse(wanted, out var key, out var problem) ? start with { Key = key } : throw CommandFailure.BadInput("--key: " + problem);
        }

        if (parsed.GetValue(_tempo) is { } tempo)
        {
            start = AtTempo(start, tempo.Trim());
        }

        return FeltLevels.TryParse(parsed.GetValue(_feel), out var felt) ? start with { Feel = felt } : start;
    }

    /// <summary>The chart with the options applied, except for the random seed.</summary>
    public Chart Apply(Chart chart, ParseResult parsed)
    {
        var start = Start(parsed) with { Seed = null };
        if (start.AtLearnerTempo && chart.LearnerTempo is null)
        {
            throw CommandFailure.BadInput("--tempo learner: the chart has no learner-tempo; give a tempo, such as --tempo \"bar = 40\" or --tempo 70%");
        }

        var warning = start.AtLearnerTempo ? ChartFiles.FastLearnerTempo(chart) : null;
        chart = start.ApplyTo(chart);
        foreach (var problem in ChartFiles.TunesOutOfRange(chart).Append(warning).OfType<string>())
        {
            Console.Error.WriteLine("groovelab: " + problem);
        }

        return chart;
    }

    /// <summary>The names of the parts that are not heard: those of the chart, and further ones by name, instrument or role.</summary>
    /// <exception cref="CommandFailure">No part has one of the names.</exception>
    public static IReadOnlySet<string> Silent(Chart chart, IEnumerable<string> without)
    {
        try
        {
            return new StartOptions { Without = [.. without] }.Silent(chart.Parts).ToHashSet(StringComparer.OrdinalIgnoreCase);
        }
        catch (ChartProblemException problem)
        {
            throw CommandFailure.BadInput("--without: " + problem.Message);
        }
    }

    private ulong? Seed(ParseResult parsed) => parsed.GetValue(_seed) is not { } text
        ? null
        : ulong.TryParse(text, out var number)
            ? number
            : throw CommandFailure.BadInput($"--seed must be a whole number from 0 to {ulong.MaxValue}, not '{text}'");

    private static StartOptions AtTempo(StartOptions start, string tempo)
    {
        if (string.Equals(tempo, Learner, StringComparison.OrdinalIgnoreCase))
        {
            return start with { AtLearnerTempo = true };
        }

        if (tempo.EndsWith('%'))
        {
            return Rational.TryParse(tempo[..^1].Trim(), out var percent) && percent >= 5 && percent <= 500 && percent.Denominator <= 1000
                ? start with { Pace = percent / 100 }
                : throw CommandFailure.BadInput($"--tempo must be from 5% to 500% of the chart's tempo, not '{tempo}'");
        }

        if (TempoText.TryMark(tempo, out var mark, out var problem))
        {
            return start with { Tempo = mark };
        }

        try
        {
            // As typed on the screen: 120 or by -4.
            return start.With("tempo " + tempo);
        }
        catch (FormatException)
        {
            throw CommandFailure.BadInput($"--tempo: {problem}; {TempoText.Accepted}, 80% or {Learner}");
        }
    }

    /// <summary>The band for a chart with the options applied.</summary>
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
