using System.Globalization;
using System.Runtime.InteropServices;
using System.Runtime.Versioning;
using GrooveLab.Files.Posix;

namespace GrooveLab.Files;

/// <summary>
/// Copies beside a file: the newest is <c>NAME~</c>; the one before moves to <c>NAME~2</c>, <c>NAME~3</c> and so on, of which <c>NAME~2</c>
/// is the oldest. Copies are never removed, and no content is kept twice.
/// </summary>
internal static class Backups
{
    private const string Mark = "~";
    private const int Attempts = 20;

    /// <summary>Keeps a content of a file.</summary>
    /// <remarks>
    /// If possible, the copy is the file itself under another name: it needs no room on a full disk, and an editor that has the file open
    /// still writes to it.
    /// </remarks>
    /// <param name="target">The file.</param>
    /// <param name="content">Its content.</param>
    /// <param name="plain">As in <see cref="WriteOptions.IsPlain"/>.</param>
    /// <returns>The path of the copy.</returns>
    /// <exception cref="FileRefusedException">It could not be kept; no content has changed or been lost.</exception>
    public static string Keep(FileTarget target, byte[] content, bool plain)
    {
        if (All(target).FirstOrDefault(path => Holds(path, content)) is { } kept)
        {
            return kept;
        }

        for (var attempt = 1; ; attempt++)
        {
            var path = Newest(target, out var makesRoom);
            try
            {
                if (OperatingSystem.IsWindows() || plain || !IsLinked(target, path, makesRoom))
                {
                    Copy(target, content, path, makesRoom, plain);
                }

                return path;
            }
            catch (FileRefusedException refused) when (refused.Refusal.Problem == FileProblem.AlreadyExists && attempt < Attempts)
            {
                // Another program, such as an editor, has just created a file of that name.
            }
        }
    }

    /// <summary>Makes an existing file the newest copy.</summary>
    /// <param name="target">The file of which it becomes a copy.</param>
    /// <param name="path">The existing file, in the same folder.</param>
    public static void Take(FileTarget target, string path) => Retried(() =>
    {
        var newest = Newest(target, out var makesRoom);
        if (makesRoom)
        {
            Move(newest, FreeName(target), target.Given);
        }

        Move(path, newest, target.Given);
    });

    /// <summary>Writes a content as the newest copy, unless a copy has it already.</summary>
    public static void Add(FileTarget target, byte[] content)
    {
        if (Find(target, ContentHash.Of(content)) is null)
        {
            Retried(() => Copy(target, content, Newest(target, out var makesRoom), makesRoom, plain: false));
        }
    }

    /// <summary>The newest copy with a content; null if none has it.</summary>
    public static string? Find(FileTarget target, ContentHash content)
    {
        try
        {
            return All(target).Find(path => FileFacts.Of(path, out _).Kind == FileKind.Regular && UnfinishedFile.HashOf(path) == content);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return null;
        }
    }

    /// <summary>An unused path for another copy.</summary>
    private static string FreeName(FileTarget target)
    {
        var most = All(target).Select(path => Number(target, path)).DefaultIfEmpty(1).Max();
        var number = Math.Max(2, most + 1);
        while (FileFacts.Of(Numbered(target, number), out _).Kind != FileKind.Absent)
        {
            number++;
        }

        return Numbered(target, number);
    }

    // The path of the newest copy, and whether an older one there must move first; an unused one if something else has that name.
    private static string Newest(FileTarget target, out bool makesRoom)
    {
        var newest = target.WholePath + Mark;
        var kind = FileFacts.Of(newest, out _).Kind;
        makesRoom = kind is FileKind.Regular or FileKind.Link;
        return makesRoom || kind == FileKind.Absent ? newest : FreeName(target);
    }

    // Another thread or program may take the same name first.
    private static void Retried(Action keep)
    {
        for (var attempt = 1; ; attempt++)
        {
            try
            {
                keep();
                return;
            }
            catch (FileRefusedException refused) when (refused.Refusal.Problem == FileProblem.AlreadyExists && attempt < Attempts)
            {
            }
        }
    }

    private static string Numbered(FileTarget target, int number) => target.WholePath + Mark + number.ToString(CultureInfo.InvariantCulture);

    private static List<string> All(FileTarget target)
    {
        try
        {
            return [.. Directory.EnumerateFiles(target.Folder)
                .Where(path => Path.GetFileName(path) is var name && name.StartsWith(target.Name + Mark, StringComparison.Ordinal) && Number(target, path) > 0)
                .OrderBy(path => Number(target, path))];
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return [];
        }
    }

    // 1 for the newest; 0 if it is not a copy.
    private static int Number(FileTarget target, string path)
    {
        var rest = Path.GetFileName(path)[(target.Name.Length + Mark.Length)..];
        return rest.Length == 0 ? 1
            : int.TryParse(rest, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number is > 1 and < int.MaxValue ? number
            : 0;
    }

    private static bool Holds(string path, byte[] content)
    {
        try
        {
            return FileFacts.Of(path, out _).Kind == FileKind.Regular
                && new FileInfo(path).Length == content.Length
                && UnfinishedFile.Whole(path).AsSpan().SequenceEqual(content);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return false;
        }
    }

    [UnsupportedOSPlatform("windows")]
    private static bool IsLinked(FileTarget target, string path, bool makesRoom)
    {
        // First under a separate name, so that the older copy moves only when this one exists.
        var temporary = Temporaries.NewPath(target.Folder);
        if (PosixCalls.Link(target.WholePath, temporary) != 0)
        {
            return false;
        }

        try
        {
            using (var file = File.OpenHandle(temporary, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete))
            {
                // Its writer may not have forced it to the disk.
                _ = PosixCalls.Sync(file);
            }

            if (makesRoom)
            {
                Move(path, FreeName(target), target.Given);
            }

            Move(temporary, path, target.Given);
            UnfinishedFile.SyncFolder(target);
            return true;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, target.Given);
        }
        finally
        {
            Temporaries.Remove(temporary);
        }
    }

    private static void Copy(FileTarget target, byte[] content, string path, bool makesRoom, bool plain)
    {
        using var copy = UnfinishedFile.BeginBeside(target, Path.GetFileName(path), plain);
        copy.Stream.Write(content);
        copy.Finish();
        if (makesRoom)
        {
            Move(path, FreeName(target), target.Given);
        }

        copy.PutInPlace(replace: false);
    }

    private static void Move(string from, string to, string given)
    {
        if (OperatingSystem.IsLinux() && MovedUnlessThere(from, to) is { } error)
        {
            if (error == 0)
            {
                return;
            }

            if (error is not PosixErrors.Invalid && error != PosixErrors.NoSuchCall && error != PosixErrors.NotSupported)
            {
                throw FileErrors.OfNumber(error, given);
            }
        }

        try
        {
            File.Move(from, to, overwrite: false);
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, given);
        }
    }

    [SupportedOSPlatform("linux")]
    private static int? MovedUnlessThere(string from, string to)
    {
        try
        {
            var answer = PosixCalls.RenameAt2(PosixCalls.WorkingFolder, from, PosixCalls.WorkingFolder, to, PosixCalls.NoReplace);
            return answer == 0 ? 0 : Marshal.GetLastPInvokeError();
        }
        catch (EntryPointNotFoundException)
        {
            return null;
        }
    }
}
