using Xunit;

namespace GrooveLab.Testing;

/// <summary>
/// Tools and data that some tests compare with and that a machine may lack: such a test is skipped, with its reason.
/// </summary>
/// <remarks>With GROOVELAB_REFERENCES=required in the environment a missing one fails the test instead.</remarks>
public static class References
{
    /// <summary>The full path of a command on the search path; skips the test without it.</summary>
    public static string RequireTool(string command)
    {
        string? found = (Environment.GetEnvironmentVariable("PATH") ?? "")
            .Split(Path.PathSeparator, StringSplitOptions.RemoveEmptyEntries)
            .Select(folder => Path.Combine(folder, command))
            .FirstOrDefault(File.Exists);
        Require(found is not null, $"the command {command} is not installed");
        return found!;
    }

    /// <summary>The full path of a file or folder of the shared test data, found beside a folder above this one; skips without it.</summary>
    public static string RequireData(string relativePathUnderSharedData)
    {
        string? found = null;
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null && found is null; folder = folder.Parent)
        {
            string candidate = Path.Combine(folder.FullName, "shared", "data", relativePathUnderSharedData);
            found = Path.Exists(candidate) ? candidate : null;
        }

        Require(found is not null, $"the shared data {relativePathUnderSharedData} is not there");
        return found!;
    }

    /// <summary>Skips the test, or fails it where references are required, unless something is present.</summary>
    public static void Require(bool present, string reason)
    {
        if (present)
        {
            return;
        }

        if (Environment.GetEnvironmentVariable("GROOVELAB_REFERENCES") == "required")
        {
            Assert.Fail($"Required and missing: {reason}.");
        }

        Assert.Skip(reason);
    }
}
