namespace GrooveLab.Inputs;

/// <summary>What the program's own terminal can do.</summary>
internal static class TerminalOutput
{
    /// <summary>True when standard output is a terminal that may be drawn on.</summary>
    public static bool IsDrawable =>
        !Console.IsOutputRedirected
        && Environment.GetEnvironmentVariable("TERM") is not "dumb";
}
