using System.Globalization;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>
/// A table in the documentation that is measured, not promised: it stands between two marks and must say what is found. Environment
/// <c>GROOVELAB_UPDATE_TABLES=1</c> writes it anew.
/// </summary>
internal sealed class MeasuredTable(string document)
{
    /// <summary>A cell that was not measured this time.</summary>
    public const string Unmeasured = "?";

    private const string Begin = "<!-- measured: begin -->", End = "<!-- measured: end -->";

    // Mathematical functions differ a little from machine to machine, and sums of thousands of samples with them.
    private const double Tolerance = 0.06;

    private readonly string _file = Path.Combine(Running.Checkout(), "docs", document);

    public static bool IsWrittenAnew => Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1";

    public static string Number(double? value) => value is { } number ? number.ToString("0.##", CultureInfo.InvariantCulture) : "-";

    public void Says(string table)
    {
        var text = File.ReadAllText(_file);
        var from = text.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length;
        var to = text.IndexOf(End, StringComparison.Ordinal);
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
            Assert.All(s.Zip(f), cell => Assert.True(Agree(cell.First, cell.Second), $"said {cell.First}, measured {cell.Second}: {string.Join(" | ", f)}"));
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
