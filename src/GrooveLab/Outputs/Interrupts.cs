using System.Runtime.InteropServices;
using GrooveLab.Files;
using GrooveLab.Inputs;

namespace GrooveLab.Outputs;

/// <summary>
/// Termination signals during a command that is not played live. The first one cancels long work, and ends the program at once if there is
/// none; a second one always ends the program at once. Unfinished files are removed.
/// </summary>
internal static class Interrupts
{
    private static readonly PosixSignal[] Ending = [PosixSignal.SIGINT, PosixSignal.SIGTERM, PosixSignal.SIGHUP];

    private static CancellationTokenSource? Work;

    /// <summary>As <see cref="CommandGuard.Run"/>, with these signals.</summary>
    public static int Guard(Func<int> work)
    {
        var signals = Array.ConvertAll(Ending, signal => PosixSignalRegistration.Create(signal, End));
        try
        {
            return CommandGuard.Run(work);
        }
        finally
        {
            foreach (var signal in signals)
            {
                signal.Dispose();
            }
        }
    }

    /// <summary>Runs long work that a signal cancels.</summary>
    public static T Run<T>(Func<CancellationToken, T> work)
    {
        using var stop = new CancellationTokenSource();

        // Work may be a part of other work, which a signal then still cancels.
        var outer = Interlocked.Exchange(ref Work, stop);
        try
        {
            return work(stop.Token);
        }
        finally
        {
            Volatile.Write(ref Work, outer);
        }
    }

    private static void End(PosixSignalContext context)
    {
        // Taken away, so that the next signal finds none.
        if (Interlocked.Exchange(ref Work, null) is { } stop)
        {
            context.Cancel = true;
            try
            {
                stop.Cancel();
            }
            catch (ObjectDisposedException)
            {
                // The work ended at the same moment.
                context.Cancel = false;
            }
        }

        if (!context.Cancel)
        {
            DurableFile.EndAll();
            TerminalOutput.ShowCursor();
        }
    }
}
