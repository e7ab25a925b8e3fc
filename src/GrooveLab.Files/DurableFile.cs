using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// The one way to write a file. It appears complete and on the disk, or not at all. Nothing is replaced unless requested. Links are
/// followed; a replaced file's permissions stay. Pipes and devices are written to directly. From any thread.
/// </summary>
public static class DurableFile
{
    /// <summary>The path of this process's standard output, on every system.</summary>
    public const string StandardOutput = "/dev/stdout";

    /// <summary>Writes the content that a function writes to a stream.</summary>
    /// <param name="path">The path of the file.</param>
    /// <param name="content">
    /// Writes the content. Its exceptions reach the caller, and nothing is left behind; only a problem with the file itself becomes a
    /// refusal.
    /// </param>
    /// <param name="options">The options; null for <see cref="WriteOptions.New"/>.</param>
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

    /// <summary>Writes a text as UTF-8, with a byte order mark only if the text starts with one.</summary>
    public static WriteResult WriteText(string path, string text, WriteOptions? options = null) =>
        WriteBytes(path, Encoding.UTF8.GetBytes(text), options);

    /// <summary>
    /// Checks, before long work, whether a file could be written. It cannot foresee that the disk will be full.
    /// </summary>
    /// <returns>Why it cannot be written; null if it can.</returns>
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
    /// The file that a write to this path would reach: symbolic links are followed, even to files that do not exist yet. The full path
    /// unchanged if this cannot be determined.
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
    /// Abandons all unfinished files and deletes what was written of them; their writers, and all that begin a file afterwards, get
    /// <see cref="FileProblem.Abandoned"/>. For the handler of a signal that ends the process, because other threads still run for a moment;
    /// a normal exit does this by itself.
    /// </summary>
    public static void EndAll() => Unfinished.Close();
}
