using GrooveLab.Store;

namespace GrooveLab.Inputs;

/// <summary>Ends a command that fails with a message and an exit code.</summary>
internal static class CommandGuard
{
    /// <summary>Runs a command's work and turns a failure into a message and an exit code.</summary>
    public static int Run(Func<int> work)
    {
        try
        {
            return work();
        }
        catch (CommandFailure failure)
        {
            Console.Error.WriteLine("groovelab: " + TypedWords.AsTyped(failure.Message));
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
}
