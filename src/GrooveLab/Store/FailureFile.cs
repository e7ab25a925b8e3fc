using System.Globalization;
using System.Reflection;
using System.Text;
using GrooveLab.Audio.Failures;
using GrooveLab.Files;

namespace GrooveLab.Store;

/// <summary>
/// A small log of failures that were survived: each kind with its time and its stack, and later how often it came. It is bounded, may be
/// shared by several programs, and is never in the way of anything.
/// </summary>
/// <param name="path">The file.</param>
internal sealed class FailureFile(string path)
{
    private const int Largest = 256_000;

    private readonly Lock _gate = new();
    private readonly Dictionary<(string Doing, string Kind, string Place, string Message), long> _written = [];

    /// <summary>The file's path.</summary>
    public string Path => path;

    /// <summary>Appends what is new; of a failure that comes again and again only now and then, unless it is the last word.</summary>
    /// <param name="failures">What was caught so far.</param>
    /// <param name="last">True at the end of the program: then every number is brought up to date.</param>
    /// <returns>False where it cannot be written.</returns>
    public bool Write(FailureLog failures, bool last = false)
    {
        lock (_gate)
        {
            var text = new StringBuilder();
            var counts = new List<((string Doing, string Kind, string Place, string Message) Key, long Count)>();
            foreach (var failure in failures.All)
            {
                var key = (failure.Doing, failure.Kind, failure.Place, failure.Message);
                var before = _written.GetValueOrDefault(key);
                if (failure.Count == before || (before > 0 && failure.Count < 2 * before && !last))
                {
                    continue;
                }

                counts.Add((key, failure.Count));
                text.Append(DateTime.UtcNow.ToString("yyyy-MM-dd HH:mm:ss'Z'", CultureInfo.InvariantCulture))
                    .Append(CultureInfo.InvariantCulture, $" groovelab {Version}: {failure}").AppendLine();
                if (before == 0 && failure.Kind.Length > 0)
                {
                    text.Append("    ").AppendLine(failure.Details.ReplaceLineEndings(Environment.NewLine + "    "));
                }
            }

            if (counts.Count == 0)
            {
                return true;
            }

            if (!TryAppend(text.ToString()))
            {
                return false;
            }

            counts.ForEach(entry => _written[entry.Key] = entry.Count);
            return true;
        }
    }

    private static string Version => Assembly.GetExecutingAssembly().GetName().Version?.ToString(3) ?? string.Empty;

    private bool TryAppend(string text)
    {
        try
        {
            Directory.CreateDirectory(System.IO.Path.GetDirectoryName(path)!);
            Shorten();
            File.AppendAllText(path, text);
            return true;
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            // The log of failures itself cannot be kept; they are told on the screen and at the end all the same.
            return false;
        }
    }

    // The newer half stays.
    private void Shorten()
    {
        if (new FileInfo(path) is not { Exists: true, Length: > Largest })
        {
            return;
        }

        var text = File.ReadAllText(path);
        var from = text.IndexOf('\n', text.Length / 2);
        DurableFile.WriteText(path, text[(from + 1)..], WriteOptions.Own).ThrowIfRefused();
    }
}
