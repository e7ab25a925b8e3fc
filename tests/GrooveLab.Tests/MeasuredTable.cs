using System.Globalization;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>
/// A table in the documentation with measured values: it is between two marks and must match the measurement.
/// <c>GROOVELAB_UPDATE_TABLES=1</c> in the environment rewrites it.
/// </summary>
internal sealed class MeasuredTable(string document, string mark = "measured")
{
    /// <summary>A cell that is not measured in this run.</summary>
    public const string Unmeasured = "?";

    private readonly string _begin = $"<!-- {mark}: begin -->", _end = $"<!-- {mark}: end -->";

    // Mathematical functions differ slightly between machines, and so do sums of thousands of samples.
    private const double Tolerance = 0.06;

    private readonly string _file = Path.Combine(Running.Checkout(), "docs", document);

    public static bool IsWrittenAnew => Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1";

    public static string Number(double? value) => value is { } number ? number.ToString("0.##", CultureInfo.InvariantCulture) : "-";

    public void Says(string table)
    {
        var text = File.ReadAllText(_file);
        var from = text.IndexOf(_begin, StringComparison.Ordinal) + _begin.Length;
        var to = text.IndexOf(_end, StringComparison.Ordinal);
        if (IsWrittenAnew)
        {
            File.WriteAllText(_file, text[..from] + "\n\n" + table.Trim() + "\n\n" + text[to..]);
            return;
        }

        var said = Rows(text[from..to]);
        var found = Rows(table);
        Assert.Equal(found.Count, said.Count);
        foreach (var (s, f) in said.Zip(found))
        {
            Assert.Equal(f.Length, s.Length);
            Assert.All(s.Zip(f), cell => Assert.True(Agree(cell.First, cell.Second), $"printed {cell.First}, measured {cell.Second}: {string.Join(" | ", f)}"));
        }
    }

    private static List<string[]> Rows(string table) =>
    [
        .. table.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)
            .Select(row => row.Split('|', StringSplitOptions.TrimEntries)),
    ];

    private static bool Agree(string said, string measured) =>
        double.TryParse(said, CultureInfo.InvariantCulture, out var a) && double.TryParse(measured, CultureInfo.InvariantCulture, out var b)
            ? Math.Abs(a - b) <= Tolerance + (Tolerance * Math.Abs(b))
            : measured == Unmeasured || said == measured;
}
