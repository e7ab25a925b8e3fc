using System.Text.Json;
using Xunit;

namespace GrooveLab.Tests;

/// <summary><c>recast</c> as its user runs it: charts, reports, the comparison of meters, errors.</summary>
public sealed class RecastCommandTests : IDisposable
{
    private const string Song = """
        format = 2
        title = "Ebb Bell"
        key = "G"
        tempo = "quarter = 100"
        meter = "4/4"
        form = ["verse", "verse", "refrain"]

        [[section]]
        name = "verse"
        chords = "| G | C | [2/4] D | G |"
        [section.tune]
        pickup = "D4:1/8 E4"
        notes = "| G4:1/4. A4:1/8 B4:1/4 G4 | C5:1/4 B4:1/8 A4 G4:1/4 E4 | D4:1/8 E4 F#4:1/4 | G4:1/2. z:1/4 |"
        words = ["The har-bour bell is ring-ing o-ver wa-ter, come home with me", "The tide is turn-ing, turn-ing with the morn-ing, so come with me"]

        [[section]]
        name = "refrain"
        chords = "| C | D |"
        """;

    private readonly Running _program = new();

    public RecastCommandTests() => _program.Write("song.toml", Song);

    private static string Docs(params string[] names) => Path.Combine([Running.Checkout(), "docs", .. names]);

    [Fact]
    public void Recast_DemoSongInFour_IsTheChartAndTheReportInTheDocs()
    {
        var chart = Docs("recasting", "ferry-lanterns-recast.toml");
        File.Copy(Docs("recasting", "ferry-lanterns-in-four.toml"), _program.Path("ferry-lanterns-in-four.toml"));
        var ran = _program.Run("recast", "ferry-lanterns-in-four.toml", "--to", "5/8 3+2", "--span", "half-bar", "-o", "five.toml");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        var made = File.ReadAllText(_program.Path("five.toml"));
        var page = File.ReadAllText(Docs("recasting.md"));
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_GOLDEN") == "1")
        {
            File.WriteAllText(chart, made);
        }

        Assert.Equal(File.ReadAllText(chart), made);
        Assert.Contains("```text\n" + ran.Out.ReplaceLineEndings("\n") + "```", page, StringComparison.Ordinal);
        Assert.Equal(0, _program.Run("check", "five.toml").ExitCode);
    }

    [Fact]
    public void Recast_OneVerseApart_StatesSeamsAndPlays()
    {
        var ran = _program.Run("recast", "song.toml", "--to", "5/8 3+2", "--span", "half-bar", "--section", "verse 2=5/4:add-beat 4", "-o", "apart.toml");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Contains("verse, refrain: 5/8 3+2, a half bar to a bar, eighth = 250, a bar lasts 1.20 s", ran.Out, StringComparison.Ordinal);
        Assert.Contains("verse 2: 5/4 2+3, a beat added after beat 4, quarter = 100, a bar lasts 3.00 s", ran.Out, StringComparison.Ordinal);
        using var shown = JsonDocument.Parse(_program.Run("show", "apart.toml", "--json").Out);
        var bars = shown.RootElement.GetProperty("bars").EnumerateArray().Select(bar =>
            $"{bar.GetProperty("section").GetString()} {bar.GetProperty("meter").GetString()} {bar.GetProperty("length").GetDouble():0.00}").ToList();
        Assert.Equal(["verse 5/8 1.20", "verse 2 5/4 3.00", "verse 2 2/4 1.20", "refrain 5/8 1.20"], new[] { bars[0], bars[7], bars[9], bars[^2] });
    }

    [Fact]
    public void Recast_Json_HasEverySyllableOfEveryVerse()
    {
        var ran = _program.Run("recast", "song.toml", "--to", "5/8", "--grouping", "3+2", "--span", "half-bar", "--json");
        Assert.Equal(0, ran.ExitCode);
        using var json = JsonDocument.Parse(ran.Out);
        var syllables = json.RootElement.GetProperty("syllables").EnumerateArray().ToList();
        Assert.Equal(
            "The har bour bell is ring ing o ver wa ter, come home with me",
            string.Join(' ', syllables.Where(one => one.GetProperty("verse").GetInt32() == 1).Select(one => one.GetProperty("text").GetString())));
        Assert.Equal(15, syllables.Count(one => one.GetProperty("verse").GetInt32() == 2));
        var bell = syllables[3];
        Assert.Equal((0, "3/8", 0, "1/2"), (bell.GetProperty("fromBar").GetInt32(), bell.GetProperty("fromOnset").GetString(), bell.GetProperty("toBar").GetInt32(), bell.GetProperty("toOnset").GetString()));
        var har = syllables[0];
        Assert.Equal((-1, "-1/4", false), (har.GetProperty("fromBar").GetInt32(), har.GetProperty("fromOnset").GetString(), har.GetProperty("strong").GetBoolean()));
        var summary = json.RootElement.GetProperty("summary");
        Assert.Equal(summary.GetProperty("strongBeats").GetInt32(), summary.GetProperty("strongBeatsKept").GetInt32());
        Assert.Equal(1.2, summary.GetProperty("barSeconds").GetDouble(), 1e-9);
    }

    [Fact]
    public void Recast_Score_IsImportedFirst()
    {
        _program.Write("reel.abc", "X:1\nT:Rope Reel\nM:4/4\nL:1/8\nQ:1/4=120\nK:G\nG3A B2G2|A2B2 c4|\n");
        var ran = _program.Run("recast", "reel.abc", "--to", "7/8", "--grouping", "2+2+3", "--span", "bar", "-o", "-");
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("meter = \"7/8 2+2+3\"", ran.Out, StringComparison.Ordinal);
        Assert.Contains("a bar to a bar", ran.Error, StringComparison.Ordinal);
    }

    [Fact]
    public void Rank_OfASong_PrintsBlocksAndWritesTheBest()
    {
        var ran = _program.Run("recast", "song.toml", "--rank", "-o", "best");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Contains("4/4 2+2 (as it is)", ran.Out, StringComparison.Ordinal);
        Assert.Contains("5/8, a half bar to a bar", ran.Out, StringComparison.Ordinal);
        Assert.Contains("5/4, a beat added", ran.Out, StringComparison.Ordinal);
        var charts = Directory.GetFiles(_program.Path("best"));
        Assert.Equal(5, charts.Length);
        Assert.All(charts, chart => Assert.Equal(0, _program.Run("check", chart).ExitCode));
        Assert.Equal(2, _program.Run("recast", "song.toml", "--rank", "-o", "best").ExitCode);
        Assert.Equal(0, _program.Run("recast", "song.toml", "--rank", "-o", "best", "--force").ExitCode);
    }

    [Theory]
    [InlineData("--to is missing; name the meter, such as --to 5/8")]
    [InlineData("write 2+2+3 or 3+2+2", "--to", "7/8 2+3+2", "--span", "bar")]
    [InlineData("adds up to 6, but the bar has 5 units", "--to", "5/8", "--grouping", "3+3")]
    [InlineData("--to says 3+2 and --grouping says 2+3", "--to", "5/8 3+2", "--grouping", "2+3")]
    [InlineData("a bar of 4/4 with a beat added is 5/4, not 7/8", "--to", "7/8", "--add-beat", "4")]
    [InlineData("a bar of 4/4 has 4 beats", "--to", "5/4", "--add-beat", "5")]
    [InlineData("'five' is not the number of a beat", "--to", "5/4", "--add-beat", "five")]
    [InlineData("--add-beat makes a bar of each bar", "--to", "5/4", "--add-beat", "4", "--span", "beat")]
    [InlineData("did you mean verse", "--to", "5/8", "--section", "vers=5/4")]
    [InlineData("--section: '0/8' is not a meter", "--to", "5/8", "--section", "verse=0/8")]
    [InlineData("it is in 4/4 2+2 already", "--to", "4/4", "--span", "bar")]
    [InlineData("names no section and meter", "--to", "5/8", "--section", "verse")]
    [InlineData("'half' is not beat", "--to", "5/8", "--section", "verse=5/8:half")]
    [InlineData("--rank compares ways for the whole song", "--rank", "--section", "verse=5/4")]
    [InlineData("--json and -o - both write", "--to", "5/8", "--json", "-o", "-")]
    [InlineData("--grid: 'tiny' is not a note value", "--to", "5/8", "--grid", "tiny")]
    public void Recast_BadInput_IsRefusedWithARemedy(string message, params string[] arguments)
    {
        var ran = _program.Run(["recast", "song.toml", .. arguments]);
        Assert.Equal(2, ran.ExitCode);
        Assert.Contains(message, ran.Error, StringComparison.Ordinal);
        Assert.Empty(ran.Out);
        Assert.Equal(["song.toml"], Directory.GetFiles(_program.Folder).Select(Path.GetFileName));
    }

    [Fact]
    public void Recast_SongWithoutATune_MovesBarsAndSaysSo()
    {
        _program.Write("bare.toml", "format = 2\nkey = \"C\"\ntempo = \"quarter = 90\"\nmeter = \"4/4\"\n[[section]]\nchords = \"| C F | G |\"\n");
        var ran = _program.Run("recast", "bare.toml", "--to", "5/8 3+2", "--span", "half-bar", "-o", "made.toml");
        Assert.Equal(0, ran.ExitCode);
        Assert.Contains("no tune", ran.Out, StringComparison.Ordinal);
        Assert.Contains("| C | F | G | G |", File.ReadAllText(_program.Path("made.toml")).Replace("  ", " ", StringComparison.Ordinal), StringComparison.Ordinal);
    }

    private const string Long = """
        format = 2
        title = "Neap"
        key = "G"
        tempo = "quarter = 100"
        meter = "4/4"
        swing = "2:1"
        feel = "group"
        form = ["verse", "jig"]
        times = 3
        tag = ["verse"]

        [[section]]
        name = "verse"
        hold = 9
        tempo = "to quarter = 60 over the last 2 bars, then a tempo"
        chords = "| G | C | D | G | G | C | D | G |"
        [section.tune]
        pickup = "D4:1/8 E4"
        notes = "| G4:1/4. A4:1/8 B4:1/4 G4 | z | z | G4:2 z:2 | G4:1 A4 B4 A4 | z | z | G4:3 z:1 |"

        [[section]]
        name = "jig"
        meter = "6/8"
        tempo = "dotted quarter = 90"
        chords = "| C | D |"
        [section.tune]
        notes = "| G4:1 A4 B4 A4:3 | G4:6 |"
        """;

    private double Shown(string chart)
    {
        using var shown = JsonDocument.Parse(_program.Run("show", chart, "--json").Out);
        return shown.RootElement.GetProperty("bars").EnumerateArray().Where(bar => !bar.GetProperty("ending").GetBoolean()).Sum(bar => bar.GetProperty("length").GetDouble());
    }

    [Fact]
    public void Recast_SongWithTimesTagAndHold_ReportsItsWholeLength()
    {
        _program.Write("long.toml", Long);
        var ran = _program.Run("recast", "long.toml", "--to", "5/8 3+2", "--span", "half-bar", "-o", "made.toml");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Contains(FormattableString.Invariant($"; {Shown("long.toml"):0.0} s before, {Shown("made.toml"):0.0} s now"), ran.Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Recast_SectionsThatTookTheirTempoFromOthers_AreNamed()
    {
        _program.Write("long.toml", Long.Replace("form = [\"verse\", \"jig\"]", "form = [\"verse\", \"jig\", \"verse\"]", StringComparison.Ordinal).Replace("tempo = \"to quarter = 60 over the last 2 bars, then a tempo\"", string.Empty, StringComparison.Ordinal));
        Assert.Contains("tempo: verse went at more than one tempo", _program.Run("recast", "long.toml", "--to", "5/8", "--span", "half-bar").Out, StringComparison.Ordinal);
        Assert.DoesNotContain("more than one tempo", _program.Run("recast", "long.toml", "--to", "5/4", "--add-beat", "4").Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Rank_MeterThatIsTheOldOneInOtherWords_IsNoCandidate()
    {
        var blocks = _program.Run("recast", "song.toml", "--rank").Out.Split("8/8, a bar to a bar", StringSplitOptions.None);
        Assert.Equal(2, blocks.Length);
        Assert.DoesNotContain("2+2+2+2", blocks[1].Split("a bar to a bar", StringSplitOptions.None)[0], StringComparison.Ordinal);
    }

    [Fact]
    public void Recast_SwingAndFeel_AreReportedAsLeftOut()
    {
        _program.Write("long.toml", Long);
        Assert.Contains("left out, since it was meant for the old meter: swing 2:1, feel;", _program.Run("recast", "long.toml", "--to", "5/8", "--span", "half-bar").Out, StringComparison.Ordinal);
        Assert.DoesNotContain("left out", _program.Run("recast", "song.toml", "--to", "5/8", "--span", "half-bar").Out, StringComparison.Ordinal);
        using var json = JsonDocument.Parse(_program.Run("recast", "long.toml", "--to", "5/8", "--span", "half-bar", "--json").Out);
        Assert.Equal(["swing 2:1", "feel"], json.RootElement.GetProperty("leftOut").EnumerateArray().Select(one => one.GetString()));
    }

    [Fact]
    public void Recast_BeatAddedToASongWithAJig_SaysThatTheJigStays()
    {
        _program.Write("long.toml", Long);
        var ran = _program.Run("recast", "long.toml", "--to", "5/4", "--add-beat", "4");
        Assert.Contains("jig: 6/8 3+3, no bar of the usual length for 5/4 2+3, a beat added after beat 4; eighth = 270, a bar lasts 1.33 s", ran.Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Recast_BeatAdded_HasOneCostInAllAndPerNote()
    {
        var ran = _program.Run("recast", "song.toml", "--to", "5/4", "--add-beat", "4", "--json");
        using var json = JsonDocument.Parse(ran.Out);
        var summary = json.RootElement.GetProperty("summary");
        Assert.True(summary.GetProperty("costPerNote").GetDouble() > 0);
        Assert.Equal(summary.GetProperty("cost").GetDouble(), summary.GetProperty("costPerNote").GetDouble() * json.RootElement.GetProperty("notes").GetArrayLength(), 1e-9);
    }

    [Fact]
    public void Recast_FiguresThatCannotBothKeepTheirShape_OffersAFinerGrid()
    {
        // Two long-short pairs in half a bar have no room in five eighths.
        _program.Write("pairs.toml", "format = 2\nkey = \"C\"\ntempo = \"quarter = 90\"\nmeter = \"4/4\"\n[[section]]\nname = \"verse\"\nchords = \"| C |\"\n[section.tune]\nnotes = \"| C4:3/16 D4:1/16 E4:3/16 F4:1/16 G4:1/2 |\"\n");
        var ran = _program.Run("recast", "pairs.toml", "--to", "5/8 3+2", "--span", "half-bar");
        Assert.Contains("evened out", ran.Out, StringComparison.Ordinal);
        Assert.Contains("their shapes have more room with --grid sixteenth: 0 reversed, 0 evened out; or in another meter, see --rank", ran.Out, StringComparison.Ordinal);
        Assert.DoesNotContain("more room", _program.Run("recast", "pairs.toml", "--to", "5/8 3+2", "--span", "half-bar", "--grid", "sixteenth").Out, StringComparison.Ordinal);
    }

    public void Dispose() => _program.Dispose();
}
