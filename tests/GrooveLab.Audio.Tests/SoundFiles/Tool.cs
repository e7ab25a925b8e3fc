using System.Diagnostics;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFiles;

/// <summary>Runs a reference tool.</summary>
internal static class Tool
{
    /// <summary>Runs it to its end and returns what it printed.</summary>
    public static string Run(string command, params string[] arguments)
    {
        var start = new ProcessStartInfo(References.RequireTool(command), arguments) { UseShellExecute = false, RedirectStandardOutput = true, RedirectStandardError = true };
        using var process = Process.Start(start)!;
        var errors = process.StandardError.ReadToEndAsync();
        var printed = process.StandardOutput.ReadToEnd() + errors.Result;
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{command} {string.Join(' ', arguments)}: exit code {process.ExitCode}: {printed}");
        return printed;
    }
}
