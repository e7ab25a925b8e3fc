using System.CommandLine;
using System.CommandLine.Completions;
using System.CommandLine.Help;
using System.CommandLine.Parsing;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;
using GrooveLab.Screen;
using GrooveLab.Store;

namespace GrooveLab.Commands;

/// <summary>Reads a command line and runs its command.</summary>
internal static class CommandLine
{
    private const string Play = "play";

    /// <summary>Reads a command line and runs its command.</summary>
    /// <param name="args">The arguments, as typed.</param>
    /// <returns>The exit code.</returns>
    public static int Run(string[] args) => Run(args, WithCommand(args));

    /// <summary>Reads a command line and runs its command.</summary>
    /// <param name="args">The arguments, as typed.</param>
    /// <param name="words">The same, from <see cref="WithCommand"/>.</param>
    /// <returns>The exit code.</returns>
    public static int Run(string[] args, string[] words)
    {
        TypedWords.Remember(args);
        if (words.Length == 0 && LiveProgram.CanShow)
        {
            words = [Play];
        }

        var parsed = Root(words.FirstOrDefault()).Parse(words);
        var messages = Messages(parsed).Distinct(StringComparer.Ordinal).ToList();
        if (messages.Count > 0)
        {
            foreach (var message in messages)
            {
                Console.Error.WriteLine("groovelab: " + TypedWords.AsTyped(message));
            }

            Console.Error.WriteLine("groovelab: " + Hint(parsed.CommandResult.Command));
            return ExitCodes.BadInput;
        }

        var code = parsed.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false });
        HealthReport.TellFailures();
        return code;
    }

    /// <summary>The arguments with the command that they leave out: a chart, or an option of <c>play</c>, is played.</summary>
    public static string[] WithCommand(string[] args) => StartWords.AsOptions(WithPlay(args));

    /// <summary>The arguments with the command that they leave out, otherwise as typed.</summary>
    public static string[] WithPlay(string[] args)
    {
        if (args.Length == 0 || Array.Exists(Commands, command => command.Name == args[0]))
        {
            return args;
        }

        var first = args[0];
        var isPlayed = IsOption(first)
            ? PlayCommand.Create().Options.Any(option => option.Name == first.Split('=')[0])
            : first == StandardInput.Word || Path.Exists(first) || first.EndsWith(".toml", StringComparison.OrdinalIgnoreCase)
                || first.Contains(Path.DirectorySeparatorChar, StringComparison.Ordinal) || ChartFiles.Preset(first) is not null;
        return isPlayed ? [Play, .. args] : args;
    }

    private static IEnumerable<string> Messages(ParseResult parsed)
    {
        var command = parsed.CommandResult.Command;
        if (command is RootCommand && parsed.UnmatchedTokens.FirstOrDefault(token => !IsOption(token)) is { } word)
        {
            // The words after an unknown command cannot be checked.
            var commands = command.Subcommands.Where(known => !known.Hidden).Select(known => known.Name).ToList();
            yield return Words.Nearest(word, commands) is null && Words.Nearest(word, PresetCharts.Names) is { } preset
                ? $"unknown command '{word}'; did you mean the preset {preset}?"
                : $"unknown command '{word}'; {Suggestion(word, "commands", commands)}";
            yield break;
        }

        // The parser may have taken an unknown option for a file, and the word after it for an unexpected one.
        Token? before = null;
        var strange = false;
        foreach (var token in parsed.Tokens.TakeWhile(token => token.Type != TokenType.DoubleDash))
        {
            var unmatched = token.Type == TokenType.Argument && parsed.UnmatchedTokens.Contains(token.Value, StringComparer.Ordinal);
            var unknown = token.Type == TokenType.Argument && IsOption(token.Value) && (unmatched || before?.Type != TokenType.Option);
            if (unknown)
            {
                yield return UnknownOption(command, token.Value);
            }
            else if (unmatched && !strange)
            {
                yield return $"unexpected argument '{token.Value}'; {Takes(command)}";
            }

            strange |= unknown;
            before = token;
        }

        if (command is RootCommand && parsed.Errors.Count > 0 && !strange)
        {
            yield return $"missing command; commands: {Words.And([.. command.Subcommands.Where(known => !known.Hidden).Select(known => known.Name)])}";
            yield break;
        }

        foreach (var error in parsed.Errors)
        {
            if (!IsOfUnmatched(error, parsed.UnmatchedTokens) && !(command is RootCommand && error.SymbolResult is CommandResult))
            {
                yield return OneOf(error) ?? Missing(error) ?? error.Message;
            }
        }
    }

    private static bool IsOption(string token) => token.Length > 1 && token[0] == '-' && !char.IsAsciiDigit(token[1]);

    private static bool IsOfUnmatched(ParseError error, IReadOnlyList<string> unmatched) =>
        error.SymbolResult is CommandResult && unmatched.Any(token => error.Message.Contains($"'{token}'", StringComparison.Ordinal));

    private static string UnknownOption(Command command, string token)
    {
        var end = token.AsSpan().IndexOfAny('=', ':');
        var name = end < 0 ? token : token[..end];
        var known = command.Parents.OfType<Command>().SelectMany(parent => parent.Options.Where(option => option.Recursive))
            .Concat(command.Options)
            .Where(option => !option.Hidden)
            .Select(option => option.Name)
            .Distinct(StringComparer.Ordinal)
            .Order(StringComparer.Ordinal);
        var where = command is RootCommand ? string.Empty : $" for {command.Name}";
        return $"unknown option {name}{where}; {Suggestion(name, "options", known)}";
    }

    /// <summary>What was probably meant, or what is known.</summary>
    public static string Suggestion(string word, string kind, IEnumerable<string> known)
    {
        var names = known.ToList();
        return Words.Nearest(word, names) is { } near
            ? $"did you mean {near}?"
            : $"{kind}: {Words.And(names)}";
    }

    private static string Takes(Command command) => command.Arguments.Count == 0
        ? $"{command.Name} takes only options"
        : $"{command.Name} takes one {Words.And([.. command.Arguments.Select(argument => argument.Name.ToLowerInvariant())])}";

    private static string Hint(Command command) => command is RootCommand
        ? "see 'groovelab --help', or add --help after a command"
        : $"see 'groovelab {command.Name} --help'";

    // The library's own messages do not show how to call the command.
    private static string? Missing(ParseError error) => error.SymbolResult switch
    {
        ArgumentResult { Tokens.Count: 0, Argument: var argument, Parent: CommandResult { Command: var command } } =>
            $"missing {argument.Name}; usage: {CommandHelp.Usage(command)}",
        OptionResult { IdentifierTokenCount: 0, Option: var option, Parent: CommandResult { Command: var command } } =>
            $"missing {CommandHelp.ShortName(option)}; usage: {CommandHelp.Usage(command)}",
        OptionResult { Tokens.Count: 0, IdentifierToken.Value: var name, Option: var option } => $"{name} needs a value: {name} {option.HelpName}",
        OptionResult { IdentifierTokenCount: > 1, IdentifierToken.Value: var name } => $"{name} may be given only once",
        _ => null,
    };

    // An option's completions are the words that it accepts.
    private static string? OneOf(ParseError error)
    {
        if (error.SymbolResult is not OptionResult { Option: var option, Tokens: [var token] })
        {
            return null;
        }

        var accepted = option.GetCompletions(CompletionContext.Empty).Select(item => item.Label).ToList();
        if (accepted.Count == 0 || accepted.Contains(token.Value, StringComparer.Ordinal))
        {
            return null;
        }

        var near = Words.Nearest(token.Value, accepted);
        return $"{option.Name} must be {Words.Or(accepted)}, not '{token.Value}'{(near is null ? "" : $"; did you mean {near}?")}";
    }

    private static readonly (string Name, Func<Command> Create)[] Commands =
    [
        ("demo", DemoCommand.Create),
        ("play", PlayCommand.Create),
        ("render", RenderCommand.Create),
        ("show", ShowCommand.Create),
        ("check", CheckCommand.Create),
        ("import", ImportCommand.Create),
        ("recast", RecastCommand.Create),
        ("export", ExportCommand.Create),
        ("pack", PackCommand.Create),
        ("inspect", InspectCommand.Create),
        ("banks", BanksCommand.Create),
        ("devices", DevicesCommand.Create),
        ("help", HelpCommand.Create),
        ("completions", CompletionsCommand.Create),
        ("complete", CompletionsCommand.CreateForShells),
    ];

    /// <summary>The commands.</summary>
    /// <param name="first">The first word; if it is a command, only that one.</param>
    public static RootCommand Root(string? first)
    {
        var root = new RootCommand("A band to practise with, in any meter.");

        // A command line that begins with a command needs no other, and creating them all takes longer.
        var named = Array.FindAll(Commands, command => command.Name == first);
        foreach (var help in root.Options.OfType<HelpOption>())
        {
            help.Action = new CommandHelp();
        }

        foreach (var (_, create) in named.Length > 0 ? named : Commands)
        {
            root.Add(create());
        }

        return root;
    }
}
