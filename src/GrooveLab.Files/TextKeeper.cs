using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// Saves texts that people also write themselves, so that none of theirs is lost: a text that is not the program's own is copied to
/// <c>NAME~</c> before it is replaced, and one that changed since it was read is not replaced unless asked. From any thread, and beside other
/// programs that save the same file.
/// </summary>
/// <remarks>
/// What the program last wrote to each file is remembered in the data folder, beyond its end. Where that folder cannot be written to, every text is
/// taken for somebody's own. Copies are never removed: see <see cref="SaveAnswer.Written.Backup"/> for the one of each save.
/// </remarks>
/// <param name="dataFolder">The user's data folder; made when needed.</param>
public sealed class TextKeeper(string dataFolder)
{
    /// <summary>As <see cref="WriteOptions.IsPlain"/>.</summary>
    internal bool IsPlain { get; init; }

    /// <summary>Saves a text, unless the file changed since it was read.</summary>
    /// <param name="path">The file. Symbolic links are followed; copies are made beside the file itself.</param>
    /// <param name="text">What to write, as UTF-8.</param>
    /// <param name="read">What the caller read or last saved there; null when it expects no file.</param>
    public SaveAnswer Save(string path, string text, ContentHash? read) => Save(path, text, read, keepAlways: false);

    /// <summary>
    /// Saves a text after <see cref="SaveAnswer.ChangedOutside"/>, because the user wants it. What is replaced is kept as a copy, whoever wrote it.
    /// </summary>
    /// <param name="path">The file.</param>
    /// <param name="text">What to write, as UTF-8.</param>
    /// <param name="seen">The content of which the user was told; if it changed once more, the answer is the same again.</param>
    public SaveAnswer SaveAnyway(string path, string text, ContentHash? seen) => Save(path, text, seen, keepAlways: true);

    /// <summary>The copy beside a file that holds a content; null when none does. A copy's name changes when a newer one takes it.</summary>
    public static string? CopyOf(string path, ContentHash content)
    {
        try
        {
            return Backups.Find(FileTarget.Of(path), content);
        }
        catch (FileRefusedException)
        {
            return null;
        }
    }

    private SaveAnswer Save(string path, string text, ContentHash? expected, bool keepAlways)
    {
        try
        {
            var bytes = Encoding.UTF8.GetBytes(text);
            var own = ContentHash.Of(bytes);

            // All that takes time is done before the lock: it is held for the check and the rename.
            using var file = UnfinishedFile.Begin(path, WriteOptions.Replacing with { IsPlain = IsPlain });
            var target = file.Target;
            if (target.IsStream)
            {
                throw FileErrors.Refused(FileProblem.NotAFile, path);
            }

            file.Stream.Write(bytes);
            file.Finish();
            using var gate = FolderLock.Take(target.Folder, dataFolder, IsPlain) ?? throw FileErrors.Refused(FileProblem.Busy, path);
            var present = Read(target);
            ContentHash? current = present is null ? null : ContentHash.Of(present);
            if (current == own)
            {
                // Whoever wrote it, it stays theirs.
                return new SaveAnswer.Written(target.WholePath, own, null);
            }

            if (current != expected)
            {
                return new SaveAnswer.ChangedOutside(target.WholePath, current);
            }

            var record = WrittenRecord.Of(dataFolder, target.WholePath);
            var backup = present is not null && (keepAlways || !record.IsOurs(current!.Value)) ? Backups.Keep(target, present, IsPlain) : null;
            record.WillWrite(own, current);
            if (!InPlace(file, own, current, out var found))
            {
                return new SaveAnswer.ChangedOutside(target.WholePath, found);
            }

            record.Wrote(own);
            return new SaveAnswer.Written(target.WholePath, own, backup);
        }
        catch (FileRefusedException refused)
        {
            return new SaveAnswer.Refused(refused.Refusal);
        }
    }

    private static bool InPlace(UnfinishedFile file, ContentHash own, ContentHash? current, out ContentHash? found)
    {
        if (current is { } known)
        {
            return file.PutInPlaceOf(own, known, out found);
        }

        try
        {
            file.PutInPlace(replace: false);
            found = own;
            return true;
        }
        catch (FileRefusedException refused) when (refused.Refusal.Problem == FileProblem.AlreadyExists)
        {
            found = UnfinishedFile.HashOf(file.Target.WholePath);
            return false;
        }
    }

    private static byte[]? Read(FileTarget target)
    {
        try
        {
            return File.ReadAllBytes(target.WholePath);
        }
        catch (Exception failure) when (failure is FileNotFoundException or DirectoryNotFoundException)
        {
            return null;
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            throw FileErrors.Of(failure, target.Given);
        }
    }
}
