using System.CommandLine;

namespace GrooveLab.Commands;

/// <summary>The program's commands and how a command line reaches them.</summary>
internal static class CommandLine
{
    public static int Run(string[] args)
    {
        var parsed = Root().Parse(args);
        if (parsed.Errors.Count > 0)
        {
            foreach (var error in parsed.Errors)
            {
                Console.Error.WriteLine("groovelab: " + error.Message);
            }

            Console.Error.WriteLine("groovelab: see 'groovelab --help', or --help behind a command");
            return ExitCodes.BadInput;
        }

        return parsed.Invoke(new InvocationConfiguration { EnableDefaultExceptionHandler = false });
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
    }

    private static RootCommand Root() => new("Practise a song in an odd meter with a band that plays along.")
    {
        DemoCommand.Create(),
        PlayCommand.Create(),
        RenderCommand.Create(),
        ShowCommand.Create(),
        CheckCommand.Create(),
        InspectCommand.Create(),
        BanksCommand.Create(),
        DevicesCommand.Create(),
    };
}
