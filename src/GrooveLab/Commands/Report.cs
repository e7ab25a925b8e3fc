using System.Runtime.CompilerServices;
using GrooveLab.Inputs;
using Spectre.Console;

namespace GrooveLab.Commands;

/// <summary>Tables and progress: formatted on a terminal, plain when piped.</summary>
internal static class Report
{
    /// <summary>Prints a table; when piped, with tabs between the columns, so that other programs can read it.</summary>
    public static void Table(IReadOnlyList<string> heads, IReadOnlyList<string[]> rows)
    {
        if (!TerminalOutput.IsDrawable)
        {
            foreach (var row in rows)
            {
                Console.Out.WriteLine(string.Join('\t', row));
            }

            return;
        }

        var table = new Table().Border(TableBorder.Simple);
        foreach (var head in heads)
        {
            table.AddColumn(Markup.Escape(head));
        }

        foreach (var row in rows)
        {
            table.AddRow([.. row.Select(Markup.Escape)]);
        }

        AnsiConsole.Write(table);
    }

    /// <summary>Runs long work with a progress bar, or silently when piped. A termination signal cancels it; see <see cref="Interrupts"/>.</summary>
    public static T Progress<T>(string what, Func<IProgress<double>, CancellationToken, T> work) => Interrupts.Run(stop =>
        !TerminalOutput.IsDrawable
            ? work(new Silent(), stop)
            : Drawn(what, work, stop));

    // A method of its own, so that the library is loaded only to draw.
    [MethodImpl(MethodImplOptions.NoInlining)]
    private static T Drawn<T>(string what, Func<IProgress<double>, CancellationToken, T> work, CancellationToken stop) =>
        AnsiConsole.Progress().AutoClear(true).Start(context =>
        {
            var task = context.AddTask(Markup.Escape(what), maxValue: 1);
            return work(new Filling(task), stop);
        });

    private sealed class Silent : IProgress<double>
    {
        public void Report(double value)
        {
            // A program that reads the pipe wants only the result.
        }
    }

    private sealed class Filling(ProgressTask task) : IProgress<double>
    {
        public void Report(double value) => task.Value = value;
    }
}
