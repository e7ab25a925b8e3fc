using System.Text;
using System.Text.RegularExpressions;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Hand-written charts, changed as a band changes them. The removed and added lines are recorded beside each chart, for people
/// to read; GROOVELAB_UPDATE_GOLDEN=1 writes those records again.</summary>
public sealed partial class HandWrittenTests
{
    public static TheoryData<string> Names => [.. HandWrittenCharts.Names];

    public static TheoryData<string, string> All
    {
        get
        {
            var all = new TheoryData<string, string>();
            foreach (var name in HandWrittenCharts.Names)
            {
                foreach (var change in HandWrittenCharts.Changes.Keys)
                {
                    all.Add(name, change);
                }
            }

            return all;
        }
    }

    [Theory]
    [MemberData(nameof(All))]
    public void Write_AChange_ReadsAsMeantAndKeepsEveryRemark(string name, string change)
    {
        var (document, before, now, written) = Written(name, change);
        var text = written.Document.Text;
        var read = written.Document.Read();

        Assert.True(read.IsChart, string.Join('\n', read.Problems) + text);
        Assert.False(written.IsReformatted, string.Join('\n', written.Reasons));
        Assert.True(SameChart.IsRead(ChartTarget.Of(before, before, now), read.Chart));
        Assert.Equal(RemarksOf(document.Text), RemarksOf(text));
        Assert.Equal(document.Text.StartsWith('\uFEFF'), text.StartsWith('\uFEFF'));
        Assert.Equal(document.Text.Contains('\r', StringComparison.Ordinal), Bare().IsMatch(text) is false && text.Contains('\r', StringComparison.Ordinal));
    }

    [Theory]
    [MemberData(nameof(All))]
    public void Write_AChangeThatIsWritten_ChangesNothingMore(string name, string change)
    {
        var (document, before, now, written) = Written(name, change);

        Assert.Same(written.Document, ChartDifference.Write(written.Document, written.Document.Read().Chart!, now).Document);
        Assert.Equal(written.Document.Text, ChartDifference.Write(document, before, now).Document.Text);
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Write_EachChange_ChangesTheLinesThatAreWrittenDown(string name)
    {
        var text = new StringBuilder();
        foreach (var change in HandWrittenCharts.Changes.Keys)
        {
            var (document, _, _, written) = Written(name, change);
            text.Append("== ").Append(change).Append('\n');
            foreach (var (sign, line) in LineChanges.Of(document.Text, written.Document.Text))
            {
                text.Append($"{sign} {line}".TrimEnd()).Append('\n');
            }

            foreach (var reason in written.Reasons)
            {
                text.Append("says: ").Append(reason).Append('\n');
            }
        }

        var file = Path.Combine(HandWrittenCharts.Folder, name + ".changes.txt");
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_GOLDEN") == "1")
        {
            File.WriteAllText(file, text.ToString());
        }

        Assert.True(File.Exists(file), $"{file} is missing; write it with GROOVELAB_UPDATE_GOLDEN=1 and read it.");
        Assert.Equal(File.ReadAllText(file).Replace("\r\n", "\n", StringComparison.Ordinal), text.ToString());
    }

    // Another key changes letters and octaves of chords, notes and keys, and the spaces after them; nothing else, and no line is removed
    // or added.
    [Theory]
    [MemberData(nameof(Names))]
    public void Write_AnotherKey_ChangesLettersOnly(string name)
    {
        foreach (var change in new[] { "a whole step up", "a half step down" })
        {
            var (document, _, _, written) = Written(name, change);
            Assert.Equal(Pitches().Replace(document.Text, string.Empty), Pitches().Replace(written.Document.Text, string.Empty));
            Assert.All(
                BarLinesBelowEachOther(document.Text).Zip(BarLinesBelowEachOther(written.Document.Text)),
                lines => Assert.True(lines.Second >= lines.First));
        }
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Write_AnotherTempo_ChangesNumbersOfTempiOnly(string name)
    {
        var (document, _, _, written) = Written(name, "faster by a sixth");
        var changes = LineChanges.Of(document.Text, written.Document.Text);

        Assert.All(changes, change => Assert.Matches(@"^\s*('?(learner-)?tempo'?\s*=|""to )", change.Line));
        Assert.Equal(
            changes.Where(change => change.Sign == '-').Select(change => Unnumbered(change.Line)),
            changes.Where(change => change.Sign == '+').Select(change => Unnumbered(change.Line)));
        Assert.All(changes, change => Assert.DoesNotMatch(@"\d/\d", change.Line));

        // Without the spaces that keep the column of a remark.
        static string Unnumbered(string line) => Regex.Replace(Numbers().Replace(line, "N"), " +#", " #", RegexOptions.NonBacktracking);
    }

    [Theory]
    [InlineData("felt in one", "feel", 3)]
    [InlineData("first part softer", "level", 2)]
    public void Write_AChangeOfOneKey_ChangesItsLineOnly(string change, string key, int most)
    {
        // A chart that names no parts gets its band written out; that is checked above.
        foreach (var name in HandWrittenCharts.Names.Where(name => name != "oneline" || key != "level"))
        {
            var (document, _, _, written) = Written(name, change);
            var changes = LineChanges.Of(document.Text, written.Document.Text);
            Assert.InRange(changes.Count, 1, most);
            Assert.All(changes, line => Assert.Contains(key, line.Line + (name is "braces" or "returning" ? key : string.Empty), StringComparison.Ordinal));
        }
    }

    private static IEnumerable<string> RemarksOf(string text) =>
        Remarks.In(text).Select(remark => text[remark.Start..remark.End]).Order(StringComparer.Ordinal);

    // For each line of bars, how many of its bar lines are in the same columns as in the line above.
    private static List<int> BarLinesBelowEachOther(string text)
    {
        var found = new List<int>();
        int[] above = [];
        foreach (var line in text.Split('\n').Where(line => line.TrimStart().StartsWith('|')))
        {
            var columns = Enumerable.Range(0, line.Length).Where(column => line[column] == '|').ToArray();
            found.Add(above.Zip(columns).TakeWhile(pair => pair.First == pair.Second).Count());
            above = columns;
        }

        return found;
    }

    private static (ChartDocument Document, Chart Before, Chart Now, WrittenChart Written) Written(string name, string change)
    {
        var document = ChartDocument.FromText(HandWrittenCharts.Text(name), name + ".toml");
        Assert.True(document.Read().IsChart, string.Join('\n', document.Read().Problems));
        var before = document.Read().Chart!;
        var now = HandWrittenCharts.Changes[change](before);
        return (document, before, now, ChartDifference.Write(document, before, now));
    }

    [GeneratedRegex(@"(?<![a-z])[A-Ga-g][#b♯♭]*\d?|[ ]", RegexOptions.None, 2000)]
    private static partial Regex Pitches();

    [GeneratedRegex(@"\d+(\.\d+)?", RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Numbers();

    [GeneratedRegex(@"(?<!\r)\n", RegexOptions.None, 2000)]
    private static partial Regex Bare();
}
