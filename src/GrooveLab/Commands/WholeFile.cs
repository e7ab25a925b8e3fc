using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>Writes files completely or not at all, and replaces an existing file only on request.</summary>
internal static class WholeFile
{
    /// <summary>Ends the command if the file cannot be written, before any long work.</summary>
    public static void Refuse(string path, bool force)
    {
        if (Directory.Exists(path))
        {
            throw CommandFailure.BadInput($"{path} is a folder; name a file");
        }

        if (File.Exists(path) && !force)
        {
            throw CommandFailure.BadInput($"{path} already exists; choose another name, or add --force to replace it");
        }

        var folder = Path.GetDirectoryName(Path.GetFullPath(path))!;
        if (!Directory.Exists(folder))
        {
            throw CommandFailure.BadInput($"{folder}: folder not found; create it first");
        }
    }

    /// <summary>Writes to a temporary file in the same folder and renames it at the end.</summary>
    /// <exception cref="IOException">The disk is full, or a file of that name was created meanwhile.</exception>
    public static void Write(string path, ReadOnlySpan<byte> bytes, bool force)
    {
        var whole = Path.GetFullPath(path);
        // In the same folder, because renaming is atomic only within one file system.
        var temporary = Path.Combine(Path.GetDirectoryName(whole)!, $".{Path.GetFileName(whole)}.{Guid.NewGuid():N}.part");
        try
        {
            using (var stream = new FileStream(temporary, FileMode.CreateNew, FileAccess.Write, FileShare.None))
            {
                stream.Write(bytes);
                stream.Flush(flushToDisk: true);
            }

            File.Move(temporary, whole, force);
        }
        finally
        {
            File.Delete(temporary);
        }
    }
}
