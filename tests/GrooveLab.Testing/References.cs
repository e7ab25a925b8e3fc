using Xunit;

namespace GrooveLab.Testing;

/// <summary>External needs of a test: a reference tool or reference data. If absent, the test is skipped with the reason; with
/// <c>GROOVELAB_REFERENCES=required</c> in the environment it fails instead.</summary>
public static class References
{
    /// <summary>The full path of a command on <c>PATH</c>.</summary>
    /// <param name="command">Its name, without extension.</param>
    public static string RequireTool(string command)
    {
        string[] names = OperatingSystem.IsWindows() ? [command + ".exe", command + ".cmd"] : [command];
        var found = (Environment.GetEnvironmentVariable("PATH") ?? "")
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries)
            .SelectMany(folder => names.Select(name => Path.Combine(folder, name)))
            .FirstOrDefault(File.Exists);
        Require(found is not null, $"The reference tool '{command}' is not installed.");
        return found!;
    }

    /// <summary>The full path of a file or folder of the data folder <c>shared/data</c> beside the repository.</summary>
    /// <param name="relativePathUnderSharedData">The path below it, with forward slashes.</param>
    public static string RequireData(string relativePathUnderSharedData)
    {
        string? found = null;
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null && found is null; folder = folder.Parent)
        {
            var candidate = Path.Combine(folder.FullName, "shared", "data", relativePathUnderSharedData);
            found = Path.Exists(candidate) ? candidate : null;
        }

        Require(found is not null, $"The reference data '{relativePathUnderSharedData}' is not here.");
        return found!;
    }

    /// <summary>Skips the test, or fails it if references are required, unless the reference is present.</summary>
    /// <param name="present">True when it is present.</param>
    /// <param name="reason">What is missing, for the skip message.</param>
    public static void Require(bool present, string reason)
    {
        if (present)
        {
            return;
        }

        if (Environment.GetEnvironmentVariable("GROOVELAB_REFERENCES") == "required")
        {
            Assert.Fail(reason);
        }

        Assert.Skip(reason);
    }
}
