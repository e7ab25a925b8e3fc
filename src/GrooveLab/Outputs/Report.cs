using System.Runtime.CompilerServices;
using GrooveLab.Inputs;
using Spectre.Console;

namespace GrooveLab.Outputs;

/// <summary>Tables and progress: formatted on a terminal, plain when piped.</summary>
internal static class Report
{
    /// <summary>Prints a table; when piped, a line for each row: cells of one width, so that the columns line up, with tabs between them, so that
    /// other programs can read it.</summary>
    public static void Table(IReadOnlyList<string> heads, IReadOnlyList<string[]> rows)
    {
        if (!TerminalOutput.IsDrawable)
        {
            foreach (var line in Lines(rows))
            {
                Console.Out.WriteLine(line);
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

    /// <summary>The rows of a table as lines.</summary>
    internal static IEnumerable<string> Lines(IReadOnlyList<string[]> rows)
    {
        var widths = rows.Count == 0 ? [] : Enumerable.Range(0, rows.Max(row => row.Length)).Select(column => rows.Max(row => row.ElementAtOrDefault(column)?.Length ?? 0)).ToList();
        return rows.Select(row => string.Join('\t', row.Select((cell, column) => column == row.Length - 1 ? cell : cell.PadRight(widths[column]))));
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
