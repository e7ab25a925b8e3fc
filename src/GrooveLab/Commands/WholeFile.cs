using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary>Files that appear whole or not at all, and never in the place of another unless asked.</summary>
internal static class WholeFile
{
    /// <summary>Ends the command if a file could not be written there; said before anything long is done.</summary>
    public static void Refuse(string path, bool force)
    {
        if (Directory.Exists(path))
        {
            throw CommandFailure.BadInput($"{path}: is a folder; name a file");
        }

        if (File.Exists(path) && !force)
        {
            throw CommandFailure.BadInput($"{path} exists and was kept; choose another name, or replace it with --force");
        }

        var folder = Path.GetDirectoryName(Path.GetFullPath(path))!;
        if (!Directory.Exists(folder))
        {
            throw CommandFailure.BadInput($"{folder}: there is no such folder");
        }
    }

    /// <summary>Writes a file beside its place and gives it its name at the end.</summary>
    /// <exception cref="IOException">The disk is full, or a file of that name turned up meanwhile.</exception>
    public static void Write(string path, ReadOnlySpan<byte> bytes, bool force)
    {
        var whole = Path.GetFullPath(path);
        // In the same folder, because only within one file system does a file take a name in one step.
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
