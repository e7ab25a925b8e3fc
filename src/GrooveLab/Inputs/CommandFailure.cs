namespace GrooveLab.Inputs;

/// <summary>Ends a command with an exit code and a message for the user.</summary>
internal sealed class CommandFailure(int exitCode, string message) : Exception(message)
{
    public int ExitCode => exitCode;

    public static CommandFailure BadInput(string message) => new(ExitCodes.BadInput, message);
}
