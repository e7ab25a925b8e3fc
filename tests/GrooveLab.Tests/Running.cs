using System.Diagnostics;

namespace GrooveLab.Tests;

/// <summary>The result of a run of the program.</summary>
internal sealed record Ran(int ExitCode, string Out, string Error);

/// <summary>Runs the program as its user does: as a separate process, with arguments, in a folder of the test.</summary>
internal sealed class Running : IDisposable
{
    /// <summary>The time limit for a run; a hanging one is ended. Normal runs take far less.</summary>
    private static readonly TimeSpan Hung = TimeSpan.FromMinutes(5);

    public Running() => Folder = Directory.CreateTempSubdirectory("groovelab-test-").FullName;

    public string Folder { get; }

    /// <summary>Additional environment variables for the runs.</summary>
    public Dictionary<string, string> Environment { get; } = [];

    /// <summary>The checkout's presets.</summary>
    public static IReadOnlyList<string> Presets { get; } =
        [.. Directory.EnumerateFiles(System.IO.Path.Combine(Checkout(), "presets"), "*.toml").Order(StringComparer.Ordinal)];

    public string Path(string name) => System.IO.Path.Combine(Folder, name);

    public string Write(string name, string text)
    {
        File.WriteAllText(Path(name), text);
        return Path(name);
    }

    public Ran Run(params string[] arguments) => Run(Host, [Program, .. arguments]);

    /// <summary>Runs a shell command in the folder; <c>"$0" "$1"</c> is the program.</summary>
    public Ran Shell(string command) => Run("bash", ["-c", command, Host, Program]);

    private static string Host { get; } = System.Environment.ProcessPath is { } host && host.EndsWith("dotnet", StringComparison.Ordinal) ? host : "dotnet";

    private static string Program { get; } = System.IO.Path.Combine(AppContext.BaseDirectory, "groovelab.dll");

    private Ran Run(string program, string[] arguments)
    {
        var start = new ProcessStartInfo(program)
        {
            WorkingDirectory = Folder,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            RedirectStandardInput = true,
            UseShellExecute = false,
        };
        foreach (var argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        start.Environment["XDG_CACHE_HOME"] = System.IO.Path.Combine(System.IO.Path.GetTempPath(), "groovelab-test-cache");
        // No sound in tests: a device name that does not exist.
        start.Environment["ALSA_CONFIG_PATH"] = "/nonexistent";
        start.Environment["XDG_DATA_HOME"] = System.IO.Path.Combine(Folder, "data");
        foreach (var (name, value) in Environment)
        {
            start.Environment[name] = value;
        }

        using var process = Process.Start(start)!;
        process.StandardInput.Close();
        var error = process.StandardError.ReadToEndAsync();
        var output = process.StandardOutput.ReadToEndAsync();
        if (!process.WaitForExit(Hung))
        {
            process.Kill(entireProcessTree: true);
        }

        process.WaitForExit();
        return new Ran(process.ExitCode, output.Result, error.Result);
    }

    public void Dispose() => Directory.Delete(Folder, recursive: true);

    public static string Checkout()
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(System.IO.Path.Combine(folder, "GrooveLab.sln")))
        {
            folder = System.IO.Path.GetDirectoryName(folder.TrimEnd(System.IO.Path.DirectorySeparatorChar))!;
        }

        return folder;
    }
}
