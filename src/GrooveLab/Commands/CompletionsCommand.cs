using System.CommandLine;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>
/// <c>completions</c>: prints a script that makes a shell complete the command line; <c>complete</c>: the command that the scripts call.
/// </summary>
internal static class CompletionsCommand
{
    private static readonly string[] Shells = ["bash", "zsh", "fish", "powershell"];

    public static Command Create()
    {
        var command = new ProgramCommand(
            "completions",
            "Print completions for bash, zsh, fish or powershell.",
            "groovelab completions bash");
        var shell = new Argument<string>("SHELL") { Description = "The shell: bash, zsh, fish or powershell. The first lines say how to load them." };
        shell.CompletionSources.Add(_ => Shells.Select(name => new System.CommandLine.Completions.CompletionItem(name)));
        command.Arguments.Add(shell);
        command.SetAction(parsed => CommandGuard.Run(() =>
        {
            var name = parsed.GetValue(shell)!;
            if (!Shells.Contains(name, StringComparer.Ordinal))
            {
                throw CommandFailure.BadInput($"unknown shell '{name}'; {CommandLine.Suggestion(name, "shells", Shells)}");
            }

            Console.Out.Write(Script(name));
            return ExitCodes.Ok;
        }));
        return command;
    }

    /// <summary>The hidden command: every line is a word, a tab and what it means, or a tab and the endings of files.</summary>
    public static Command CreateForShells()
    {
        var command = new ProgramCommand("complete", "Print the words that can follow.", "groovelab complete -- render --b") { Hidden = true };
        var words = new Argument<string[]>("WORD") { Arity = ArgumentArity.ZeroOrMore };
        command.Arguments.Add(words);
        command.SetAction(parsed => CommandGuard.Run(() =>
        {
            foreach (var word in Completion.Of(parsed.GetValue(words)!))
            {
                Console.Out.Write($"{word.Value}\t{word.Help}\n");
            }

            return ExitCodes.Ok;
        }));
        return command;
    }

    private static string Script(string shell)
    {
        using var stream = typeof(CompletionsCommand).Assembly.GetManifestResourceStream("completions/" + shell)
            ?? throw new InvalidOperationException($"The completions of {shell} are not embedded.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }
}
