namespace GrooveLab.Inputs;

/// <summary>The capabilities of the program's terminal.</summary>
internal static class TerminalOutput
{
    /// <summary>True if standard output is a terminal with cursor control.</summary>
    public static bool IsDrawable =>
        !Console.IsOutputRedirected
        && Environment.GetEnvironmentVariable("TERM") is not "dumb";

    /// <summary>Shows the cursor that a progress bar has hidden, without waiting for the thread that draws. From any thread.</summary>
    public static void ShowCursor()
    {
        if (IsDrawable)
        {
            using var output = Console.OpenStandardOutput();
            output.Write("\u001b[?25h"u8);
        }
    }
}
