using System.CommandLine;
using System.CommandLine.Completions;
using System.CommandLine.Help;
using GrooveLab.Audio.Devices;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Commands;

/// <summary>A word that a shell may put in the place of the one being typed.</summary>
/// <param name="Value">The word; empty if <paramref name="Help"/> lists the endings of files that the shell itself completes.</param>
/// <param name="Help">What it means, in a few words; may be empty.</param>
internal sealed record CompletedWord(string Value, string Help);

/// <summary>
/// What the shells complete: commands, options, their values, presets, parts. Arguments and options say with <see cref="CompletionItem"/>s what
/// they accept.
/// </summary>
internal static class Completion
{
    private const string FileKind = "File";
    private const string ListKind = "List";

    private static readonly string[] ChartEndings = [".toml"];
    private static readonly string[] SoundEndings = [".wav", ".flac", ".opus"];

    /// <summary>Completes with files that have one of the endings.</summary>
    public static void WithFiles(IList<Func<CompletionContext, IEnumerable<CompletionItem>>> sources, params string[] endings) =>
        sources.Add(_ => [new CompletionItem(string.Join(' ', endings), FileKind)]);

    /// <summary>Completes with charts and presets.</summary>
    public static void WithCharts(Argument chart, params string[] others)
    {
        WithFiles(chart.CompletionSources, [.. ChartEndings, .. others]);
        chart.CompletionSources.Add(_ => PresetCharts.Names.Select(name => new CompletionItem(name, detail: "preset")));
    }

    /// <summary>Completes with sound files.</summary>
    public static void WithSoundFiles(Option output) => WithFiles(output.CompletionSources, SoundEndings);

    /// <summary>Completes with words.</summary>
    public static void With(Option option, params string[] words) => option.CompletionSources.Add(_ => words.Select(word => new CompletionItem(word)));

    /// <summary>Completes with keys.</summary>
    public static void WithKeys(Option key)
    {
        string[] tonics = ["C", "G", "D", "A", "E", "B", "F", "Bb", "Eb", "Ab", "Db", "F#", "C#", "G#"];
        With(key, [.. tonics.SelectMany(tonic => new[] { tonic, tonic + "m" }).Where(name => Key.TryParse(name, out _, out _))]);
    }

    /// <summary>Completes with the banks found.</summary>
    public static void WithBanks(IList<Func<CompletionContext, IEnumerable<CompletionItem>>> sources)
    {
        sources.Add(_ => Banks.Found().Select(file => new CompletionItem(Path.GetFileNameWithoutExtension(file), detail: file))
            .Prepend(new CompletionItem(Banks.BuiltIn)));
        WithFiles(sources, ".sf2", ".sf3");
    }

    /// <summary>Completes with the sound outputs.</summary>
    public static void WithDevices(Option device) => device.CompletionSources.Add(_ =>
    {
        try
        {
            return AudioOutputs.List().Select(output => new CompletionItem(output.Name, detail: output.Description));
        }
        catch (AudioDeviceException)
        {
            return [];
        }
    });

    /// <summary>Completes with the MIDI ports.</summary>
    public static void WithMidiPorts(Option port, bool sends)
    {
        port.CompletionSources.Add(_ => MidiPorts.List().Where(one => sends ? one.Sends : one.Receives).Select(one => new CompletionItem(one.Name, detail: one.Path)));
    }

    /// <summary>Completes a list of parts: names, instruments and roles, of the chart if the command line names one.</summary>
    public static void WithParts(Option parts, Argument<string> chart) => parts.CompletionSources.Add(context =>
        Parts(context.ParseResult.GetResult(chart) is { Tokens.Count: > 0 } given ? given.Tokens[0].Value : null)
            .DistinctBy(part => part.Name, StringComparer.OrdinalIgnoreCase)
            .Select(part => new CompletionItem(part.Name, ListKind, detail: part.What)));

    /// <summary>The words that can stand in the place of the last one.</summary>
    /// <param name="words">The words after the program's name; the last one is being typed and may be empty.</param>
    public static IReadOnlyList<CompletedWord> Of(IReadOnlyList<string> words)
    {
        var typed = words.Count == 0 ? string.Empty : words[^1];
        var typedBefore = words.Take(words.Count - 1).ToArray();
        var before = CommandLine.WithCommand(typedBefore);
        var bare = StartWords.Following(CommandLine.WithPlay(typedBefore));
        var root = CommandLine.Root(before.FirstOrDefault());
        var parsed = root.Parse(before);
        var command = parsed.CommandResult.Command;
        var found = new List<CompletedWord>();
        if (before.Contains("--", StringComparer.Ordinal))
        {
            return found;
        }

        if (typed.StartsWith('-') && typed.IndexOf('=') is > 0 and var sign)
        {
            // --feel=bar is one word of some shells.
            var name = typed[..(sign + 1)];
            return OptionNamed(command, name[..^1]) is { } one
                ? [.. Matching(one.CompletionSources, parsed, typed[(sign + 1)..]).Where(word => word.Value.Length > 0).Select(word => word with { Value = name + word.Value })]
                : found;
        }

        if (bare.Option is not null && OptionNamed(command, bare.Option) is { } named)
        {
            return Matching(named.CompletionSources, parsed, typed);
        }

        if (before.Length > 0 && OptionNamed(command, before[^1]) is { } option && option.Arity.MaximumNumberOfValues > 0 && option.ValueType != typeof(bool))
        {
            return Matching(option.CompletionSources, parsed, typed);
        }

        if (!typed.StartsWith('-') || typed == "-")
        {
            // The first word may be a chart, which is then played.
            found.AddRange(command.Subcommands.Where(child => !child.Hidden).Select(child => new CompletedWord(child.Name, child.Description!)));
            var place = command is RootCommand ? PlayCommand.Create() : command;
            var filled = command is RootCommand ? 0 : parsed.CommandResult.Tokens.Count;
            foreach (var argument in place.Arguments)
            {
                if (filled < argument.Arity.MaximumNumberOfValues)
                {
                    found.AddRange(Matching(argument.CompletionSources, parsed, typed));
                    break;
                }

                filled -= argument.Arity.MaximumNumberOfValues;
            }
        }

        found.AddRange(bare.Words.Where(_ => !typed.StartsWith('-')).Select(word => new CompletedWord(word, MeaningOf(command, word))));
        if (typed.Length > 0 || found.Count == 0)
        {
            var given = parsed.Tokens.Select(token => token.Value).ToHashSet(StringComparer.Ordinal);
            found.AddRange(OptionsOf(command).Where(one => !one.Aliases.Append(one.Name).Any(given.Contains))
                .Select(one => new CompletedWord(one.Name, one is HelpOption ? "Show help." : one.Description ?? string.Empty)));
        }

        return [.. found.Where(word => word.Value.Length == 0 || word.Value.StartsWith(typed, StringComparison.OrdinalIgnoreCase))];
    }

    private static string MeaningOf(Command command, string word) => OptionNamed(command, "--" + word)?.Description ?? "The chart's slower tempo.";

    private static IEnumerable<Option> OptionsOf(Command command) =>
        command.Options.Concat(command.Parents.OfType<Command>().SelectMany(parent => parent.Options.Where(option => option.Recursive)))
            .Where(option => !option.Hidden);

    private static Option? OptionNamed(Command command, string name) =>
        OptionsOf(command).FirstOrDefault(option => option.Name == name || option.Aliases.Contains(name));

    private static List<CompletedWord> Matching(
        IEnumerable<Func<CompletionContext, IEnumerable<CompletionItem>>> sources, ParseResult parsed, string typed)
    {
        var context = parsed.GetCompletionContext();
        return
        [
            .. sources.SelectMany(source => source(context))
                .Select(item => item.Kind switch
                {
                    FileKind => new CompletedWord(string.Empty, item.Label),

                    // After what is in the list already.
                    ListKind => new CompletedWord(typed[..(typed.LastIndexOf(',') + 1)] + item.Label, item.Detail ?? string.Empty),
                    _ => new CompletedWord(item.Label, item.Detail ?? string.Empty),
                })
                .Where(word => word.Value.Length == 0 || word.Value.StartsWith(typed, StringComparison.OrdinalIgnoreCase)),
        ];
    }

    private static IEnumerable<(string Name, string What)> Parts(string? chart)
    {
        if (chart is not null && chart != StandardInput.Word)
        {
            try
            {
                if (ChartFiles.ReadFile(chart) is { IsChart: true } read)
                {
                    return read.Chart.Parts.SelectMany(part => new[] { (part.Name, "part"), (part.Instrument.Name, "instrument"), (part.Role.Name(), "role") });
                }
            }
            catch (CommandFailure)
            {
                // Not a chart: every name that a part could have.
            }
        }

        return Enum.GetValues<Role>().Select(role => (role.Name(), "role"))
            .Concat(InstrumentFile.BuiltIn.All.Select(instrument => (instrument.Name, "instrument")));
    }
}
