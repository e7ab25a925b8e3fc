using System.Text.RegularExpressions;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>All examples on the page about charts can be read.</summary>
public sealed partial class DocumentationTests
{
    private static readonly string Page = File.ReadAllText(Path.Combine(ChartTexts.Folder("docs"), "chart-format.md"));

    public static TheoryData<string, string> Snippets
    {
        get
        {
            var data = new TheoryData<string, string>();
            foreach (Match match in Fence().Matches(Page))
            {
                if (match.Groups["language"].Value == "toml" && match.Groups["kind"].Value is not ("wrong" or "instruments"))
                {
                    data.Add(match.Groups["kind"].Value, match.Groups["body"].Value);
                }
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Snippets))]
    public void Snippet_AsPrinted_IsReadWithoutProblems(string kind, string body)
    {
        var result = ChartReader.ReadText(Whole(kind, body), "chart-format.md");

        Assert.True(result.IsChart, string.Join('\n', result.Problems));
    }

    [Fact]
    public void Page_ShowsManySnippets() => Assert.InRange(Snippets.Count, 20, 100);

    [Fact]
    public void WrongSnippet_AsPrinted_HasExactlyThePrintedProblems()
    {
        var fences = Fence().Matches(Page).ToList();
        var wrong = fences.FindIndex(match => match.Groups["kind"].Value == "wrong");
        var problems = ChartReader.ReadText(fences[wrong].Groups["body"].Value, "chart.toml").Problems;

        Assert.Equal(fences[wrong + 1].Groups["body"].Value.Trim().Split('\n'), problems.Select(problem => problem.ToString()));
    }

    [Fact]
    public void InstrumentSnippet_AsPrinted_IsReadWithEveryKey()
    {
        var body = Assert.Single(Fence().Matches(Page), match => match.Groups["kind"].Value == "instruments").Groups["body"].Value;
        var catalogue = InstrumentFile.BuiltIn.With(InstrumentFile.Read(body, "instruments.toml"));

        Assert.True(catalogue.TryFind("big mandolin", out var instrument));
        Assert.Equal((43, 76, 4, 90), (instrument.Lowest, instrument.Highest, instrument.Strings.Count, instrument.HandLimitMs));
        Assert.Equal(catalogue.ByName("fiddle"), InstrumentFile.BuiltIn.ByName("fiddle"));
    }

    [Fact]
    public void Page_EveryKey_IsExplained()
    {
        var keys = ChartKeys.Chart.Concat(ChartKeys.Part).Concat(ChartKeys.Section).Concat(ChartKeys.Tune)
            .Concat(ChartKeys.Line)
            .Concat(Enum.GetValues<Role>().SelectMany(ChartKeys.SettingsOf))
            .Except(["part", "section", "tune"]);

        Assert.All(keys, key => Assert.Contains($"`{key}`", Page, StringComparison.Ordinal));
    }

    [Fact]
    public void Page_EveryMark_IsExplained()
    {
        // Levels between the first and the last are not listed singly, nor are fingers and single strong notes.
        var levels = new[] { "ppp", "pp", "p", "mp", "f", "ff", "fff", "sffz", "sfp", "rf", "1", "2", "3", "4" };
        Assert.All(TuneMarks.Names.Except(levels).Except(["staccatissimo", "strong-accent"]), name => Assert.Contains($"`!{name}!`", Page, StringComparison.Ordinal));
    }

    [Fact]
    public void Page_EveryInstrument_IsNamedWithItsRange()
    {
        var page = Page.Replace('\n', ' ');
        foreach (var instrument in InstrumentFile.BuiltIn.All.Where(instrument => !instrument.Unpitched))
        {
            var range = $"{Music.Harmony.Pitch.FromMidi(instrument.Lowest)}-{Music.Harmony.Pitch.FromMidi(instrument.Highest)}";
            Assert.Contains($"`{instrument.Name}` ({range})", page, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Page_RolesTable_SaysWhatThePartsReallyAre()
    {
        foreach (var part in HouseBand.Parts(InstrumentFile.BuiltIn))
        {
            Assert.Matches($@"\| `{part.Role.Name()}` \| [^|]+ \| {part.Instrument.Name} \| {part.LevelDecibels} \| {part.Pan} \|", Page);
        }
    }

    [Fact]
    public void Page_InstrumentsTable_SaysWhichRolesAreUsual()
    {
        var catalogue = InstrumentFile.BuiltIn;
        foreach (var instrument in catalogue.All)
        {
            var roles = Enum.GetValues<Role>().Where(role => catalogue.Suits(instrument, role)).Select(role => $"`{role.Name()}`");
            Assert.Contains($"| {instrument.Name} | {string.Join(", ", roles)} |", Page, StringComparison.Ordinal);
        }
    }

    // Completes a fragment to a whole chart.
    private static string Whole(string kind, string body)
    {
        string Missing(string key, string value) =>
            kind == "top" && Regex.IsMatch(body, $@"^{key}\b", RegexOptions.Multiline, TimeSpan.FromSeconds(1)) ? string.Empty : $"{key} = {value}\n";
        var top = Missing("format", "2") + Missing("key", "\"D dorian\"") + Missing("tempo", "\"eighth = 260\"") + Missing("meter", "\"5/8 3+2\"");
        return kind switch
        {
            "" => body,
            "top" => top + body + "\n[[section]]\nchords = \"| Dm | C |\"\n",
            "part" => top + body + "\n[[section]]\nchords = \"| Dm | C |\"\n",
            _ => top + body,
        };
    }

    [GeneratedRegex(@"^```(?<language>\w+) ?(?<kind>\w*)\n(?<body>.*?)^```$", RegexOptions.Multiline | RegexOptions.Singleline, 2000)]
    private static partial Regex Fence();
}
