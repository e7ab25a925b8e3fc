using System.Diagnostics;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Files.Tests;

/// <summary>A folder for one test, and system services for tests: processes, mounts, pipes.</summary>
public abstract class Sandbox : IDisposable
{
    private readonly List<string> _mounts = [];
    private readonly List<Process> _children = [];

    /// <summary>The folder.</summary>
    protected string Folder { get; } = Directory.CreateTempSubdirectory("groovelab-files-").FullName;

    public void Dispose()
    {
        foreach (var child in _children)
        {
            child.Kill();
            child.WaitForExit();
            child.Dispose();
        }

        foreach (var mount in _mounts)
        {
            // Lazily, because a process that another test starts at this moment may still hold a file there.
            Run("umount", "--lazy", mount);
        }

        Directory.Delete(Folder, recursive: true);
        GC.SuppressFinalize(this);
    }

    /// <summary>A path in the folder.</summary>
    protected string At(string name) => Path.Combine(Folder, name);

    /// <summary>Names in a folder, hidden ones too.</summary>
    protected string[] Names(string? folder = null) =>
        [.. Directory.GetFileSystemEntries(folder ?? Folder).Select(path => Path.GetFileName(path)!).Order(StringComparer.Ordinal)];

    /// <summary>Skips the test on other systems.</summary>
    protected static void NeedLinux() => Assert.SkipUnless(OperatingSystem.IsLinux(), "Links, pipes, permissions and mounts need Linux's tools.");

    /// <summary>Skips the test for any user but root.</summary>
    protected static void NeedRoot()
    {
        NeedLinux();
        References.Require(Environment.UserName == "root", "Only root may mount and change owners.");
    }

    /// <summary>Mounts a file system of a few pages in a new folder.</summary>
    protected string Mount(string size)
    {
        NeedRoot();
        var folder = At("mount" + _mounts.Count);
        Directory.CreateDirectory(folder);
        var problem = Run("mount", "-t", "tmpfs", "-o", "size=" + size, "none", folder);
        References.Require(problem.Code == 0, "File systems cannot be mounted here: " + problem.Error);
        _mounts.Add(folder);
        return folder;
    }

    /// <summary>Runs a program to its end.</summary>
    protected static (int Code, string Output, string Error) Run(string program, params string[] arguments)
    {
        using var process = Process.Start(new ProcessStartInfo(program, arguments)
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
        })!;
        var error = process.StandardError.ReadToEndAsync();
        var output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return (process.ExitCode, output, error.Result);
    }

    /// <summary>A shell command; the path of the child program and its arguments are <c>$CHILD</c>.</summary>
    protected static (int Code, string Output, string Error) Shell(string command)
    {
        NeedLinux();
        var child = $"dotnet '{typeof(Attack.Child).Assembly.Location}'";

        // Otherwise a limit on file sizes would apply to the runtime's own memory.
        return Run("bash", "-c", "export DOTNET_EnableWriteXorExecute=0; " + command.Replace("$CHILD", child, StringComparison.Ordinal));
    }

    /// <summary>Starts the child program and waits for its first line.</summary>
    protected Process Child(params string[] arguments)
    {
        NeedLinux();
        var process = Process.Start(new ProcessStartInfo("dotnet", [typeof(Attack.Child).Assembly.Location, .. arguments])
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
        })!;
        _children.Add(process);
        Assert.NotNull(process.StandardOutput.ReadLine());
        return process;
    }

    /// <summary>Who may read and write a file.</summary>
    protected static UnixFileMode Mode(string path) => OperatingSystem.IsWindows() ? UnixFileMode.None : File.GetUnixFileMode(path);

    /// <summary>Sets it.</summary>
    protected static void SetMode(string path, UnixFileMode mode)
    {
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(path, mode);
        }
    }

    /// <summary>The refusal of a write that must be refused.</summary>
    protected static FileRefusal Refusal(WriteResult result)
    {
        Assert.False(result.IsWritten);
        Assert.NotNull(result.Refusal);
        Assert.DoesNotContain(".groovelab-", result.Refusal.Message, StringComparison.Ordinal);
        return result.Refusal;
    }
}
