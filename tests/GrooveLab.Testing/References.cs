using Xunit;

namespace GrooveLab.Testing;

/// <summary>
/// What a test needs from outside the repository: a tool on the path or a data file. Where it is absent the test is skipped with the reason;
/// with the environment variable GROOVELAB_REFERENCES set to "required" it fails instead.
/// </summary>
public static class References
{
    /// <summary>The full path of a command on the path; skips the test when there is none.</summary>
    public static string RequireTool(string command)
    {
        var folders = (Environment.GetEnvironmentVariable("PATH") ?? "").Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries);
        var names = OperatingSystem.IsWindows() ? new[] { command + ".exe", command + ".cmd", command } : [command];
        var found = folders.SelectMany(folder => names.Select(name => Path.Combine(folder, name))).FirstOrDefault(File.Exists);
        Require(found is not null, $"the tool '{command}' is not installed");
        return found!;
    }

    /// <summary>
    /// The full path of a file or folder below the data folder, shared/data, that lies beside the repository or one of the folders above
    /// it; skips the test when there is none.
    /// </summary>
    public static string RequireData(string relativePathUnderSharedData)
    {
        string? found = null;
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null && found is null; folder = folder.Parent)
        {
            var path = Path.Combine(folder.FullName, "shared", "data", relativePathUnderSharedData);
            if (Path.Exists(path))
                found = path;
        }

        Require(found is not null, $"the data '{relativePathUnderSharedData}' is not beside the repository (shared/data)");
        return found!;
    }

    /// <summary>Skips the test with a reason when something is not present, or fails it where references are required.</summary>
    public static void Require(bool present, string reason)
    {
        if (present)
            return;
        if (Environment.GetEnvironmentVariable("GROOVELAB_REFERENCES") == "required")
            Assert.Fail($"A reference is required: {reason}.");
        Assert.Skip($"Skipped: {reason}.");
    }
}
