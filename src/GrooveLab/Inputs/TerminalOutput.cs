namespace GrooveLab.Inputs;

/// <summary>The capabilities of the program's terminal.</summary>
internal static class TerminalOutput
{
    /// <summary>True if standard output is a terminal with cursor control.</summary>
    public static bool IsDrawable =>
        !Console.IsOutputRedirected
        && Environment.GetEnvironmentVariable("TERM") is not "dumb";

    /// <summary>The characters in a line, at least 40; null if standard output is no terminal.</summary>
    public static int? Width => Console.IsOutputRedirected || Console.WindowWidth <= 0 ? null : Math.Max(40, Console.WindowWidth);

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
