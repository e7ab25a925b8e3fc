using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Files;

/// <summary>
/// Records permanently which content the program last wrote to a file; any other content is the user's own text. One small file for
/// each file, in the user's data folder.
/// </summary>
internal sealed class WrittenRecord
{
    private const string Path = "file";
    private const string Last = "written";
    private const string Next = "writing";

    private readonly string _record;
    private readonly string _file;
    private ContentHash? _last;
    private ContentHash? _next;

    private WrittenRecord(string record, string file)
    {
        _record = record;
        _file = file;
    }

    /// <summary>Reads the record of a file. If it cannot be read, every content counts as the user's own.</summary>
    /// <param name="folder">The user's data folder.</param>
    /// <param name="file">The file, symbolic links followed.</param>
    public static WrittenRecord Of(string folder, string file)
    {
        var mark = Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(file)))[..32];
        var record = new WrittenRecord(System.IO.Path.Combine(folder, "written", mark), file);
        try
        {
            foreach (var line in File.ReadLines(record._record))
            {
                var (key, value) = line.IndexOf(' ', StringComparison.Ordinal) is var at and > 0 ? (line[..at], line[(at + 1)..]) : (line, string.Empty);
                switch (key)
                {
                    case Last:
                        record._last = ContentHash.Parse(value);
                        break;
                    case Next:
                        record._next = ContentHash.Parse(value);
                        break;
                    default:
                        break;
                }
            }
        }
        catch (Exception failure) when (FileErrors.IsOfFiles(failure))
        {
            return record;
        }

        return record;
    }

    /// <summary>True if the program wrote this content and nothing since.</summary>
    public bool IsOurs(ContentHash content) => content == _last || content == _next;

    /// <summary>
    /// Records what is about to be written. Until <see cref="Wrote"/> both contents count as the program's, because it may end in between,
    /// on either side of the rename.
    /// </summary>
    /// <param name="content">The content to be written.</param>
    /// <param name="present">The current content of the file.</param>
    public void WillWrite(ContentHash content, ContentHash? present)
    {
        _last = present is { } there && IsOurs(there) ? there : null;
        _next = content;
        Keep();
    }

    /// <summary>Records that it was written.</summary>
    public void Wrote(ContentHash content)
    {
        (_last, _next) = (content, null);
        Keep();
    }

    // Without the record, files count as the user's own: more copies are made, and none is lost.
    private void Keep()
    {
        var text = new StringBuilder().Append(Path).Append(' ').Append(_file).Append('\n');
        if (_last is { } last)
        {
            text.Append(Last).Append(' ').Append(last).Append('\n');
        }

        if (_next is { } next)
        {
            text.Append(Next).Append(' ').Append(next).Append('\n');
        }

        _ = DurableFile.WriteText(_record, text.ToString(), WriteOptions.Own);
    }
}
