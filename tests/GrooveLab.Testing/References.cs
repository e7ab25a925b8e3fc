using Xunit;

namespace GrooveLab.Testing;

/// <summary>
/// Tools and data that tests compare with. Where one is absent the test is skipped and says why; with the environment variable
/// <c>GROOVELAB_REFERENCES</c> set to <c>required</c> it fails instead.
/// </summary>
public static class References
{
    /// <summary>The full path of a command, looked for in <c>PATH</c>.</summary>
    public static string RequireTool(string command)
    {
        var path = (Environment.GetEnvironmentVariable("PATH") ?? "")
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries)
            .Select(folder => Path.Combine(folder, command))
            .FirstOrDefault(File.Exists);
        Require(path is not null, $"the command {command} is not installed");
        return path!;
    }

    /// <summary>The full path of a file or folder in the shared data, which lie beside the repository.</summary>
    public static string RequireData(string relativePathUnderSharedData)
    {
        string? found = null;
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null && found is null; folder = folder.Parent)
        {
            var candidate = Path.Combine(folder.FullName, "shared", "data", relativePathUnderSharedData);
            if (Path.Exists(candidate))
                found = candidate;
        }
        Require(found is not null, $"the shared data have no {relativePathUnderSharedData}");
        return found!;
    }

    /// <summary>Skips the test, or fails it where references are required, unless something is present.</summary>
    public static void Require(bool present, string reason)
    {
        if (present)
            return;
        if (Environment.GetEnvironmentVariable("GROOVELAB_REFERENCES") == "required")
            Assert.Fail(reason);
        Assert.Skip(reason);
    }
}
