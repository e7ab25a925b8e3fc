using System.CommandLine;
using System.CommandLine.Completions;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>help</c>: prints the help of the program or of a command.</summary>
internal static class HelpCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("help", "Show the help of a command.", "groovelab help render");
        var of = new Argument<string?>("COMMAND") { Description = "The command. Default: all commands.", Arity = ArgumentArity.ZeroOrOne };
        of.CompletionSources.Add(_ => CommandLine.Root(null).Subcommands.Where(known => !known.Hidden).Select(known => new CompletionItem(known.Name)));
        command.Arguments.Add(of);
        command.SetAction(parsed => CommandGuard.Run(() =>
        {
            var root = CommandLine.Root(null);
            var name = parsed.GetValue(of);
            var known = root.Subcommands.Where(child => !child.Hidden).ToList();
            CommandHelp.Print(
                name is null ? root
                    : known.FirstOrDefault(child => child.Name == name)
                        ?? throw CommandFailure.BadInput($"unknown command '{name}'; {CommandLine.Suggestion(name, "commands", known.Select(child => child.Name))}"),
                Console.Out);
            return ExitCodes.Ok;
        }));
        return command;
    }
}
