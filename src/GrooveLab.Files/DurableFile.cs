using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// The one way to write a file: it appears whole and on the disk, or not at all; nothing is replaced unless asked; symbolic links are followed; a
/// replaced file's permissions stay; pipes and devices are written to directly. From any thread.
/// </summary>
public static class DurableFile
{
    /// <summary>Writes what a function puts into a stream.</summary>
    /// <param name="path">Where the file goes.</param>
    /// <param name="content">
    /// Writes the content. What it throws reaches the caller, and nothing is left behind; only what went wrong with the file itself becomes a
    /// refusal.
    /// </param>
    /// <param name="options">How; null for <see cref="WriteOptions.New"/>.</param>
    public static WriteResult Write(string path, Action<Stream> content, WriteOptions? options = null)
    {
        try
        {
            using var file = UnfinishedFile.Begin(path, options ?? WriteOptions.New);
            content(file.Stream);
            file.Commit();
            return new WriteResult(path, null);
        }
        catch (FileRefusedException refused) when (refused.Refusal.Path == path)
        {
            return new WriteResult(path, refused.Refusal);
        }
    }

    /// <summary>Writes bytes.</summary>
    public static WriteResult WriteBytes(string path, ReadOnlySpan<byte> bytes, WriteOptions? options = null)
    {
        try
        {
            using var file = UnfinishedFile.Begin(path, options ?? WriteOptions.New);
            file.Stream.Write(bytes);
            file.Commit();
            return new WriteResult(path, null);
        }
        catch (FileRefusedException refused)
        {
            return new WriteResult(path, refused.Refusal);
        }
    }

    /// <summary>Writes a text as UTF-8, with a byte order mark only where the text begins with one.</summary>
    public static WriteResult WriteText(string path, string text, WriteOptions? options = null) =>
        WriteBytes(path, Encoding.UTF8.GetBytes(text), options);

    /// <summary>
    /// Tries whether a file could be written, without writing it: to be asked before long work. A disk that fills up later is not foreseen.
    /// </summary>
    /// <returns>What refuses it; null when nothing does.</returns>
    public static FileRefusal? Check(string path, WriteOptions? options = null)
    {
        try
        {
            if (!FileTarget.Of(path).IsStream)
            {
                UnfinishedFile.Begin(path, options ?? WriteOptions.New).Dispose();
            }

            return null;
        }
        catch (FileRefusedException refused)
        {
            return refused.Refusal;
        }
    }

    /// <summary>True for pipes, devices and open streams such as <c>/dev/stdout</c>, which are written to directly.</summary>
    public static bool IsStream(string path)
    {
        try
        {
            return FileTarget.Of(path).IsStream;
        }
        catch (FileRefusedException)
        {
            return false;
        }
    }

    /// <summary>
    /// The file that a write to this path would reach: symbolic links followed, also those that lead to nothing yet. The full path as it stands
    /// where that cannot be found out.
    /// </summary>
    public static string RealPath(string path)
    {
        try
        {
            return FileTarget.Of(path).WholePath;
        }
        catch (FileRefusedException)
        {
            return Path.GetFullPath(path);
        }
    }

    /// <summary>
    /// Gives up every file that is not finished and removes what was written of it; their writers get <see cref="FileProblem.Abandoned"/>. For the
    /// handler of a signal that ends the program; done at a regular end of the process by itself.
    /// </summary>
    public static void ForgetUnfinished() => Unfinished.Forget();
}
