using System.CommandLine;
using System.CommandLine.Completions;
using System.CommandLine.Help;
using System.CommandLine.Parsing;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;
using GrooveLab.Screen;
using GrooveLab.Store;

namespace GrooveLab.Commands;

/// <summary>Reads a command line and runs its command.</summary>
internal static class CommandLine
{
    public static int Run(string[] args)
    {
        // Without arguments, on a terminal, it plays the demo.
        var words = args.Length == 0 && LiveProgram.CanShow ? ["play"] : args;
        var parsed = Root(words.FirstOrDefault()).Parse(words);
        var messages = Messages(parsed).Distinct(StringComparer.Ordinal).ToList();
        if (messages.Count > 0)
        {
            foreach (var message in messages)
            {
                Console.Error.WriteLine("groovelab: " + message);
            }

            Console.Error.WriteLine("groovelab: " + Hint(parsed.CommandResult.Command));
            return ExitCodes.BadInput;
        }

        var code = parsed.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false });
        HealthReport.TellFailures();
        return code;
    }

    /// <summary>Runs a command's work and turns a failure into a message and an exit code.</summary>
    public static int Guard(Func<int> work)
    {
        try
        {
            return work();
        }
        catch (CommandFailure failure)
        {
            Console.Error.WriteLine("groovelab: " + failure.Message);
            return failure.ExitCode;
        }
        catch (OperationCanceledException)
        {
            Console.Error.WriteLine("groovelab: stopped");
            return ExitCodes.Failed;
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            Console.Error.WriteLine("groovelab: " + failure.Message);
            return ExitCodes.Failed;
        }
#pragma warning disable CA1031 // The program's own faults are also reported in a sentence; the log that the last line names has their place.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add("the command failed", failure);
            return ExitCodes.Failed;
        }
    }

    private static IEnumerable<string> Messages(ParseResult parsed)
    {
        var command = parsed.CommandResult.Command;
        if (command is RootCommand && parsed.UnmatchedTokens.FirstOrDefault(token => !IsOption(token)) is { } word)
        {
            // The words after an unknown command cannot be checked.
            yield return $"unknown command '{word}'; {Suggestion(word, "commands", command.Subcommands.Select(known => known.Name))}";
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
            yield return $"missing command; commands: {Words.And([.. command.Subcommands.Select(known => known.Name)])}";
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

    private static string Suggestion(string word, string kind, IEnumerable<string> known)
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
        ("export", ExportCommand.Create),
        ("inspect", InspectCommand.Create),
        ("banks", BanksCommand.Create),
        ("devices", DevicesCommand.Create),
    ];

    // A command line that begins with a command needs no other, and creating them all takes longer.
    private static RootCommand Root(string? first)
    {
        var root = new RootCommand("A band to practise with, in any meter.");
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
