using System.Globalization;
using System.Runtime.InteropServices;
using GrooveLab.Files.Posix;

namespace GrooveLab.Files;

/// <summary>The final target of a write, with every symbolic link followed, even if the last one leads to no file yet.</summary>
/// <param name="Given">The file as the caller named it.</param>
/// <param name="Folder">The folder of the file, links followed.</param>
/// <param name="Name">The file's name in that folder.</param>
/// <param name="Facts">What exists there.</param>
/// <param name="Descriptor">The open stream of this process, for a name such as <c>/dev/stdout</c>; otherwise null.</param>
internal sealed record FileTarget(string Given, string Folder, string Name, FileFacts Facts, int? Descriptor)
{
    // As many as the Linux kernel follows.
    private const int MostLinks = 40;

    private const int StandardOutputDescriptor = 1;

    /// <summary>The whole path.</summary>
    public string WholePath => Path.Combine(Folder, Name);

    /// <summary>
    /// True for pipes, devices and open streams, which are written to directly: they have no content to lose and no name to take.
    /// </summary>
    public bool IsStream => Descriptor is not null || Facts.Kind is FileKind.Pipe or FileKind.CharacterDevice;

    /// <summary>Determines the target.</summary>
    /// <exception cref="FileRefusedException">
    /// No file can be written there: the folder is missing, the name is that of a folder, links form a loop.
    /// </exception>
    public static FileTarget Of(string given)
    {
        if (string.IsNullOrWhiteSpace(given) || given.Contains('\0', StringComparison.Ordinal))
        {
            throw FileErrors.Refused(FileProblem.InvalidName, given);
        }

        if (OperatingSystem.IsWindows() && given == DurableFile.StandardOutput)
        {
            return new FileTarget(given, string.Empty, given, FileFacts.Absent, StandardOutputDescriptor);
        }

        string path;
        try
        {
            path = Path.GetFullPath(given);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure) || failure is ArgumentException or NotSupportedException)
        {
            throw failure is IOException ? FileErrors.Of(failure, given) : FileErrors.Refused(FileProblem.InvalidName, given);
        }

        for (var links = 0; links <= MostLinks; links++)
        {
            var name = Path.GetFileName(path);
            if (name is "" or "." or "..")
            {
                throw FileErrors.Refused(FileProblem.IsFolder, given);
            }

            var folder = RealFolder(Path.GetDirectoryName(path) ?? path, given);
            if (OpenStream(folder, name) is { } descriptor)
            {
                return new FileTarget(given, folder, name, FileFacts.Absent, descriptor);
            }

            var whole = Path.Combine(folder, name);
            var facts = FileFacts.Of(whole, out var error);
            if (error != 0)
            {
                throw FileErrors.OfNumber(error, given);
            }

            switch (facts.Kind)
            {
                case FileKind.Folder:
                    throw FileErrors.Refused(FileProblem.IsFolder, given);
                case FileKind.Other:
                    throw FileErrors.Refused(FileProblem.NotAFile, given);
                case FileKind.Link:
                    path = Next(folder, whole, given);
                    break;
                default:
                    return new FileTarget(given, folder, name, facts, null);
            }
        }

        throw FileErrors.Refused(FileProblem.TooManyLinks, given);
    }

    private static string Next(string folder, string link, string given)
    {
        try
        {
            var leads = new FileInfo(link).LinkTarget ?? throw FileErrors.Refused(FileProblem.TooManyLinks, given);

            // Not shortened: a ".." behind another link means the folder where that link leads.
            return Path.IsPathRooted(leads) ? leads : folder + Path.DirectorySeparatorChar + leads;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, given);
        }
    }

    private static string RealFolder(string folder, string given)
    {
        if (OperatingSystem.IsWindows())
        {
            var info = new DirectoryInfo(folder);
            return !info.Exists ? throw FileErrors.Refused(FileProblem.FolderMissing, given)
                : info.ResolveLinkTarget(returnFinalTarget: true)?.FullName ?? info.FullName;
        }

        var real = PosixCalls.RealPath(folder);
        return real ?? throw FileErrors.OfNumber(Marshal.GetLastPInvokeError(), given);
    }

    // Opening such a name would open the underlying file again, from its start; the open stream itself continues at its place, and appends
    // if it was opened so.
    private static int? OpenStream(string folder, string name)
    {
        var streams = OperatingSystem.IsLinux() ? $"/proc/{Environment.ProcessId}/fd" : OperatingSystem.IsWindows() ? null : "/dev/fd";
        return folder == streams && int.TryParse(name, NumberStyles.None, CultureInfo.InvariantCulture, out var descriptor) ? descriptor : null;
    }
}
