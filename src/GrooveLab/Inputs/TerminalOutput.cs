namespace GrooveLab.Inputs;

/// <summary>The capabilities of the program's terminal.</summary>
internal static class TerminalOutput
{
    /// <summary>True if standard output is a terminal with cursor control.</summary>
    public static bool IsDrawable =>
        !Console.IsOutputRedirected
        && Environment.GetEnvironmentVariable("TERM") is not "dumb";
}
