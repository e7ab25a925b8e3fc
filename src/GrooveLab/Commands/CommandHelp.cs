using System.CommandLine;
using System.CommandLine.Help;
using System.CommandLine.Invocation;
using System.Text;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>
/// Prints a command's help: purpose, usage, example, arguments and options. The library's own layout needs more lines and wider ones; this one
/// fits a terminal of 24 lines and 80 columns.
/// </summary>
internal sealed class CommandHelp : SynchronousCommandLineAction
{
    private const int Columns = 80;
    private const string RootExample = "groovelab play song.toml";

    /// <summary>True: the help is printed even if arguments are missing.</summary>
    public override bool ClearsParseErrors => true;

    /// <summary>How a command is called, such as <c>groovelab render CHART -o FILE.wav [options]</c>.</summary>
    public static string Usage(Command command)
    {
        if (command is RootCommand)
        {
            return "groovelab [COMMAND | CHART] [options]";
        }

        var words = new List<string> { "groovelab", command.Name };
        words.AddRange(command.Arguments.Select(Label));
        words.AddRange(command.Options.Where(option => option.Required).Select(option => $"{ShortName(option)} {option.HelpName}"));
        words.Add("[options]");
        return string.Join(' ', words);
    }

    /// <summary>An option's shortest name, such as <c>-o</c>.</summary>
    public static string ShortName(Option option) => Names(option)[0];

    /// <inheritdoc/>
    public override int Invoke(ParseResult parseResult)
    {
        Print(parseResult.CommandResult.Command, parseResult.InvocationConfiguration.Output);
        return ExitCodes.Ok;
    }

    /// <summary>Prints the help of a command.</summary>
    public static void Print(Command command, TextWriter to)
    {
        var text = new StringBuilder();
        AppendWrapped(text, command.Description!, 0);
        text.Append("Usage:   ").AppendLine(Usage(command));
        text.Append("Example: ").AppendLine(command is ProgramCommand own ? own.Example : RootExample);
        text.AppendLine();
        AppendRows(text, [.. Rows(command)]);
        if (command is RootCommand)
        {
            text.AppendLine();
            AppendWrapped(text, "A chart or preset without a command is played; without both, the demo. The chart - is standard input, the file - standard output.", 0);
        }

        to.Write(text);
    }

    private static IEnumerable<(string Label, string Description)> Rows(Command command)
    {
        foreach (var child in command.Subcommands.Where(child => !child.Hidden))
        {
            yield return (string.Join(' ', child.Arguments.Select(Label).Prepend(child.Name)), child.Description!);
        }

        foreach (var argument in command.Arguments.Where(argument => argument.Description is not null))
        {
            yield return (argument.Name, argument.Description!);
        }

        // --help, which every command has, is listed for the whole program, and where nothing else is.
        var inherited = command.Options.Count + command.Arguments.Count > 0
            ? [] : command.Parents.OfType<Command>().SelectMany(parent => parent.Options.Where(option => option.Recursive));
        foreach (var option in command.Options.Concat(inherited))
        {
            var names = string.Join(", ", Names(option));
            yield return (
                option.HelpName is { } value ? $"{names} {value}" : names,
                option switch
                {
                    HelpOption => "Show this help.",
                    VersionOption => "Show the version.",
                    _ => option.Description!,
                });
        }
    }

    // The shortest first; names for other shells ("/?") are left out.
    private static List<string> Names(Option option) =>
        [.. option.Aliases.Append(option.Name).Where(name => name[0] == '-' && !name.Contains('?')).Distinct().OrderBy(name => name.Length)];

    private static string Label(Argument argument) => argument.Arity switch
    {
        { MinimumNumberOfValues: 0 } => $"[{argument.Name}]",
        { MaximumNumberOfValues: > 1 } => $"{argument.Name}...",
        _ => argument.Name,
    };

    private static void AppendRows(StringBuilder text, IReadOnlyList<(string Label, string Description)> rows)
    {
        var indent = rows.Max(row => row.Label.Length) + 4;
        foreach (var (label, description) in rows)
        {
            text.Append("  ").Append(label.PadRight(indent - 2));
            AppendWrapped(text, description, indent);
        }
    }

    // Appends a sentence; every line but the first is indented.
    private static void AppendWrapped(StringBuilder text, string sentence, int indent)
    {
        var column = indent;
        foreach (var word in sentence.Split(' '))
        {
            if (column > indent && column + 1 + word.Length > Columns)
            {
                text.AppendLine().Append(' ', indent);
                column = indent;
            }
            else if (column > indent)
            {
                text.Append(' ');
                column++;
            }

            text.Append(word);
            column += word.Length;
        }

        text.AppendLine();
    }
}
