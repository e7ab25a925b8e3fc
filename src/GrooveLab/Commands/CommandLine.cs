using System.CommandLine;
using System.CommandLine.Completions;
using System.CommandLine.Parsing;
using GrooveLab.Inputs;
using GrooveLab.Music.Wording;
using GrooveLab.Screen;
using GrooveLab.Store;

namespace GrooveLab.Commands;

/// <summary>The program's commands and how a command line reaches them.</summary>
internal static class CommandLine
{
    public static int Run(string[] args)
    {
        // Alone, on a terminal, it plays.
        string[] words = args.Length == 0 && LiveProgram.CanShow ? ["play"] : args;
        var parsed = Root(words.FirstOrDefault()).Parse(words);
        var messages = Messages(parsed).Distinct(StringComparer.Ordinal).ToList();
        if (messages.Count > 0)
        {
            foreach (var message in messages)
            {
                Console.Error.WriteLine("groovelab: " + message);
            }

            Console.Error.WriteLine("groovelab: see 'groovelab --help', or --help behind a command");
            return ExitCodes.BadInput;
        }

        var code = parsed.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false });
        HealthReport.TellFailures();
        return code;
    }

    /// <summary>Runs a command's work and turns what goes wrong into a sentence and an exit code.</summary>
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
#pragma warning disable CA1031 // A mistake of the program's own is told in a sentence too; where it was is in the log that the last line names.
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
            // What follows a command that is not known cannot be judged.
            yield return $"there is no command '{word}'; {Meant(word, command.Subcommands.Select(known => known.Name))}";
            yield break;
        }

        // An option that is not known may have been taken for a file, and what follows it for one too many.
        Token? before = null;
        var strange = false;
        foreach (var token in parsed.Tokens.TakeWhile(token => token.Type != TokenType.DoubleDash))
        {
            var unmatched = token.Type == TokenType.Argument && parsed.UnmatchedTokens.Contains(token.Value, StringComparer.Ordinal);
            var unknown = token.Type == TokenType.Argument && IsOption(token.Value) && (unmatched || before?.Type != TokenType.Option);
            if (unknown)
            {
                yield return NoOption(command, token.Value);
            }
            else if (unmatched && !strange)
            {
                yield return $"'{token.Value}' is too much here; {Takes(command)}";
            }

            strange |= unknown;
            before = token;
        }

        if (command is RootCommand && parsed.Errors.Count > 0 && !strange)
        {
            yield return $"say what to do: {Words.Or([.. command.Subcommands.Select(known => known.Name)])}";
            yield break;
        }

        foreach (var error in parsed.Errors)
        {
            if (!IsOfUnmatched(error, parsed.UnmatchedTokens) && !(command is RootCommand && error.SymbolResult is CommandResult))
            {
                yield return OneOf(error) ?? error.Message;
            }
        }
    }

    private static bool IsOption(string token) => token.Length > 1 && token[0] == '-' && !char.IsAsciiDigit(token[1]);

    private static bool IsOfUnmatched(ParseError error, IReadOnlyList<string> unmatched) =>
        error.SymbolResult is CommandResult && unmatched.Any(token => error.Message.Contains($"'{token}'", StringComparison.Ordinal));

    private static string NoOption(Command command, string token)
    {
        var end = token.AsSpan().IndexOfAny('=', ':');
        var name = end < 0 ? token : token[..end];
        var known = command.Parents.OfType<Command>().SelectMany(parent => parent.Options.Where(option => option.Recursive))
            .Concat(command.Options)
            .Where(option => !option.Hidden)
            .Select(option => option.Name)
            .Distinct(StringComparer.Ordinal)
            .Order(StringComparer.Ordinal);
        var where = command is RootCommand ? "groovelab alone" : command.Name;
        return $"{where} has no option {name}; {Meant(name, known)}";
    }

    private static string Meant(string word, IEnumerable<string> known)
    {
        var names = known.ToList();
        return Words.Nearest(word, names) is { } near
            ? $"did you mean {near}?"
            : $"there {(names.Count == 1 ? "is" : "are")} {Words.And(names)}";
    }

    private static string Takes(Command command) => command.Arguments.Count == 0
        ? $"{command.Name} takes options only"
        : $"{command.Name} takes {Words.And([.. command.Arguments.Select(argument => argument.Name)])} once";

    // The words that an option accepts are those that it completes to.
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
        return $"{option.Name}: '{token.Value}' is not one of {Words.Or(accepted)}{(near is null ? "" : $"; did you mean {near}?")}";
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

    // A line that begins with a command needs no other, and making all of them takes longer than making one.
    private static RootCommand Root(string? first)
    {
        var root = new RootCommand("Practise a song in an odd meter with a band that plays along.");
        var named = Array.FindAll(Commands, command => command.Name == first);
        foreach (var (_, create) in named.Length > 0 ? named : Commands)
        {
            root.Add(create());
        }

        return root;
    }
}
