using System.Runtime.InteropServices;
using GrooveLab.Files;
using GrooveLab.Inputs;
using Spectre.Console;

namespace GrooveLab.Commands;

/// <summary>Tables and progress: drawn on a terminal, plain when piped.</summary>
internal static class Report
{
    /// <summary>A table; columns parted by tabs when piped, so that other programs can read it.</summary>
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

    private static readonly PosixSignal[] Ending = [PosixSignal.SIGINT, PosixSignal.SIGTERM, PosixSignal.SIGHUP];

    /// <summary>
    /// Runs something long with a bar that fills, or in silence when piped. A signal that ends programs cancels it; a second one ends the program
    /// as it is, with what it was writing removed.
    /// </summary>
    public static T Progress<T>(string what, Func<IProgress<double>, CancellationToken, T> work)
    {
        using var stop = new CancellationTokenSource();
        var signals = Ending.Select(signal => PosixSignalRegistration.Create(signal, context =>
        {
            context.Cancel = !stop.IsCancellationRequested;
            if (context.Cancel)
            {
                stop.Cancel();
            }
            else
            {
                DurableFile.ForgetUnfinished();
            }
        })).ToList();
        try
        {
            if (!TerminalOutput.IsDrawable)
            {
                return work(new Silent(), stop.Token);
            }

            return AnsiConsole.Progress().AutoClear(true).Start(context =>
            {
                var task = context.AddTask(Markup.Escape(what), maxValue: 1);
                return work(new Filling(task), stop.Token);
            });
        }
        finally
        {
            signals.ForEach(signal => signal.Dispose());
        }
    }

    private sealed class Silent : IProgress<double>
    {
        public void Report(double value)
        {
            // Whoever reads a pipe wants the result only.
        }
    }

    private sealed class Filling(ProgressTask task) : IProgress<double>
    {
        public void Report(double value) => task.Value = value;
    }
}
