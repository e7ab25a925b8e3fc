using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The tables in <c>docs/built-in-sounds.md</c> match the measurements; <c>GROOVELAB_UPDATE_TABLES=1</c> in the environment rewrites them.</summary>
public sealed partial class DocumentationTests
{
    [Fact]
    public void Table_InTheDocumentation_IsWhatIsMeasured() => Check("measured", BankTable.Create(BankUnderTest.Instance));

    [Fact]
    public void Table_BesideRecordedBanks_IsWhatIsMeasured()
    {
        foreach (var (_, bank) in ComparedTable.Banks)
        {
            References.Require(File.Exists(bank), $"{bank} is not installed");
        }

        Check("compared", ComparedTable.Create(BankUnderTest.Instance));
    }

    private static void Check(string name, string measured)
    {
        string begin = $"<!-- {name}: begin -->", end = $"<!-- {name}: end -->";
        var file = Path.Combine(Root(), "docs", "built-in-sounds.md");
        var text = File.ReadAllText(file);
        int from = text.IndexOf(begin, StringComparison.Ordinal) + begin.Length, to = text.IndexOf(end, StringComparison.Ordinal);
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1")
        {
            File.WriteAllText(file, text[..from] + "\n\n" + measured.ReplaceLineEndings("\n") + "\n" + text[to..]);
            return;
        }

        string[] said = Rows(text[from..to]), found = Rows(measured);
        Assert.Equal(found.Length, said.Length);
        foreach (var (s, f) in said.Zip(found))
        {
            // Words must agree; numbers may differ in the last digit, because mathematical functions differ slightly between machines.
            Assert.Equal(Numbers().Replace(f, "#"), Numbers().Replace(s, "#"));
            foreach (var (a, b) in Numbers().Matches(s).Zip(Numbers().Matches(f)))
            {
                double x = double.Parse(a.Value, CultureInfo.InvariantCulture), y = double.Parse(b.Value, CultureInfo.InvariantCulture);
                Assert.True(Math.Abs(x - y) <= 0.11 + (0.03 * Math.Abs(y)), $"printed {a.Value}, measured {b.Value}: {f}");
            }
        }
    }

    private static string[] Rows(string table) => table.Split('\n', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);

    private static string Root()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "GrooveLab.sln")))
            {
                return folder.FullName;
            }
        }

        throw new DirectoryNotFoundException("No folder above the tests contains the solution.");
    }

    [GeneratedRegex(@"-?\d+(\.\d+)?", RegexOptions.CultureInvariant | RegexOptions.ExplicitCapture, matchTimeoutMilliseconds: 1000)]
    private static partial Regex Numbers();
}
