using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// Saves texts that people also edit, so that none of their work is lost: a text that is not the program's own is copied to
/// <c>NAME~</c> before it is replaced, and one that changed since it was read is replaced only on request. From any thread, and beside
/// other programs that save the same file.
/// </summary>
/// <remarks>
/// The data folder records permanently what the program last wrote to each file. If that folder cannot be written to, every text is
/// treated as the user's own. Copies are never removed: see <see cref="SaveAnswer.Written.Backup"/> for the one of each save.
/// </remarks>
/// <param name="dataFolder">The user's data folder; created if needed.</param>
public sealed class TextKeeper(string dataFolder)
{
    /// <summary>As <see cref="WriteOptions.IsPlain"/>.</summary>
    internal bool IsPlain { get; init; }

    /// <summary>Saves a text, unless the file changed since it was read.</summary>
    /// <param name="path">The file. Symbolic links are followed; copies are made beside the file itself.</param>
    /// <param name="text">The text to write, as UTF-8.</param>
    /// <param name="read">The content that the caller read or last saved there; null if it expects no file.</param>
    public SaveAnswer Save(string path, string text, ContentHash? read) => Save(path, text, read, keepAlways: false);

    /// <summary>
    /// Saves a text after <see cref="SaveAnswer.ChangedOutside"/>, at the user's request. The replaced content is kept as a copy, whoever
    /// wrote it.
    /// </summary>
    /// <param name="path">The file.</param>
    /// <param name="text">The text to write, as UTF-8.</param>
    /// <param name="seen">The content reported to the user; if it has changed again, the result is the same again.</param>
    public SaveAnswer SaveAnyway(string path, string text, ContentHash? seen) => Save(path, text, seen, keepAlways: true);

    /// <summary>The copy of a content beside a file; null if there is none. A copy's name changes when a newer copy takes it.</summary>
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

            // All slow work is done before the lock, which is held only for the check and the rename.
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
                // It remains the text of its author.
                return new SaveAnswer.Written(target.WholePath, own, null) { HadIt = true };
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
            return UnfinishedFile.Whole(target.WholePath);
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
