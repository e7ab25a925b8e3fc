using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace GrooveLab.Store;

/// <summary>
/// Changes that were not saved, kept beside so that the next start can offer them: the chart's text with them in. One file for each chart.
/// </summary>
internal sealed class Recovery
{
    private readonly string _file;
    private string? _written;

    /// <param name="chart">Full path of the chart's file, or the name of one that has none.</param>
    public Recovery(string chart)
    {
        var mark = Convert.ToHexString(SHA256.HashData(Encoding.UTF8.GetBytes(chart)))[..12].ToLowerInvariant();
        _file = Path.Combine(UserFolders.Data, "recovery", $"{Path.GetFileNameWithoutExtension(chart)}-{mark}.toml");
    }

    /// <summary>The text with the changes that were not saved; null when there are none.</summary>
    public string? Offer() => UserFolders.TryRead(_file);

    /// <summary>When it was written, in words.</summary>
    public string When => File.Exists(_file)
        ? File.GetLastWriteTime(_file).ToString("d MMMM HH:mm", CultureInfo.InvariantCulture)
        : string.Empty;

    /// <summary>Keeps a text, if it is another than the last.</summary>
    public void Keep(string text)
    {
        if (text != _written && UserFolders.TryWrite(_file, text))
        {
            _written = text;
        }
    }

    /// <summary>Takes it away: the changes are saved, or not wanted.</summary>
    public void Drop()
    {
        _written = null;
        UserFolders.TryDelete(_file);
    }
}
