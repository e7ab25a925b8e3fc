using System.Text.Json;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Back-phrasing asked for on the command line, reported, written and played.</summary>
public sealed class RecastPhrasingTests
{
    private const string Song = """
        format = 2
        title = "Low Water"
        key = "D dorian"
        tempo = "quarter = 96"
        meter = "4/4 2+2"
        bar-groups = 2
        form = ["verse", "verse"]
        [[section]]
        name = "verse"
        chords = "| Dm | C | Am | Dm | Dm | C | Am | Dm |"
        [section.tune]
        notes = "| D4:1 F4 A4 F4 | G4:1 E4 C4:2 | E4:1 G4 A4 G4 | F4:2 D4:2 | D4:1 F4 A4 F4 | G4:1 E4 C4:2 | E4:1 G4 A4 G4 | F4:2 D4:2 |"
        words = [
          "| Low were the lan- | terns on wa- | ter long is the | riv- er | None of us e- | ver lis- tened | to men of the | moor- land |",
          "| Far from the pal- | ace we came | bring me the dawn | o cold | Bells of the boat- | men a- way | all of the an- | chors old |",
        ]
        """;

    [Theory]
    [InlineData("light", "1/32")]
    [InlineData("strong", "1/16")]
    public void Recast_BackPhrasing_IsPlayedAsReported(string phrasing, string delay)
    {
        using var program = new Running();
        program.Write("song.toml", Song);
        var ran = program.Run("recast", "song.toml", "--to", "5/8", "--span", "half-bar", "--back-phrasing", phrasing, "--json", "-o", "five.toml");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        using var report = JsonDocument.Parse(ran.Out);
        var asked = report.RootElement.GetProperty("syllables").EnumerateArray()
            .Where(syllable => syllable.GetProperty("delayUnits").GetDouble() > 0)
            .Select(syllable => (Bar: syllable.GetProperty("toBar").GetInt32() + (16 * (syllable.GetProperty("verse").GetInt32() - 1)), Text: syllable.GetProperty("text").GetString(),
                Place: syllable.GetProperty("toOnset").GetString(), Units: syllable.GetProperty("delayUnits").GetDouble()))
            .Order().ToList();
        Assert.NotEmpty(asked);

        using var shown = JsonDocument.Parse(program.Run("show", "five.toml", "--json").Out);
        var played = shown.RootElement.GetProperty("bars").EnumerateArray().Index()
            .SelectMany(bar => bar.Item.GetProperty("events").EnumerateArray().Select(note => (Bar: bar.Index, Note: note, Written: note.GetProperty("written"))))
            .Where(one => one.Written.TryGetProperty("late", out _)).ToList();
        Assert.Equal(asked, played.Select(one => (one.Bar, one.Written.GetProperty("syllable").GetProperty("text").GetString(), one.Written.GetProperty("place").GetString(),
            (Fraction(one.Written, "late") / Span.Of(1, 8)).ToDouble())).Order());
        Assert.All(played, one => Assert.Equal(delay, one.Written.GetProperty("late").GetString()));
        Assert.All(played, one => Assert.Equal(Fraction(one.Written, "place") + Fraction(one.Written, "late"), Fraction(one.Note, "onset")));

        var summary = report.RootElement.GetProperty("summary");
        Assert.Equal(asked.Count, summary.GetProperty("lateWords").GetInt32());
        Assert.Equal(1 - (asked.Count / 52.0), summary.GetProperty("plainStrongBeats").GetDouble(), 9);
        Assert.Equal(phrasing == "light" ? 0.0625 : 0.125, summary.GetProperty("longestDelaySeconds").GetDouble(), 9);
    }

    [Theory]
    [InlineData("none", "")]
    [InlineData("light", "sung: 8 words late, 63 ms at most, 85 % of 52 strong beats struck plainly, no glides; written: all delays as marks")]
    public void Recast_Report_SaysHowItIsSung(string phrasing, string said)
    {
        using var program = new Running();
        program.Write("song.toml", Song);
        var ran = program.Run("recast", "song.toml", "--to", "5/8", "--span", "half-bar", "--back-phrasing", phrasing);
        Assert.Equal(0, ran.ExitCode);
        Assert.Equal(said, string.Join("; ", ran.Out.Split('\n').Where(line => line.StartsWith("sung:", StringComparison.Ordinal) || line.StartsWith("written:", StringComparison.Ordinal))));
    }

    // A sixteenth of a unit of 4.6 s is longer than 250 ms.
    [Fact]
    public void Recast_UnitsThatAreTooLong_SaysThatNoneIsLate()
    {
        using var program = new Running();
        program.Write("song.toml", Song);
        var ran = program.Run("recast", "song.toml", "--to", "5/4", "--add-beat", "4", "--tempo", "quarter = 13", "--back-phrasing", "light");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        Assert.Contains("sung: plainly; no word can be late", ran.Out, StringComparison.Ordinal);
    }

    [Fact]
    public void Recast_LiteralWriting_MovesNotesAndLeavesChordsAndBars()
    {
        using var program = new Running();
        program.Write("song.toml", Song);
        foreach (var (name, phrasing) in new[] { ("plain.toml", "none"), ("late.toml", "strong") })
        {
            Assert.Equal(0, program.Run("recast", "song.toml", "--to", "5/4", "--add-beat", "4", "--back-phrasing", phrasing, "--written", "literal", "-o", name).ExitCode);
        }

        var (plain, late) = (Bars(program, "plain.toml"), Bars(program, "late.toml"));
        Assert.Equal(plain.Select(bar => bar.GetProperty("chords").ToString()), late.Select(bar => bar.GetProperty("chords").ToString()));
        foreach (var role in new[] { "pulse", "bass" })
        {
            Assert.Equal(Onsets(plain, role), Onsets(late, role));
        }

        Assert.NotEqual(Onsets(plain, "tune"), Onsets(late, "tune"));
    }

    private static List<JsonElement> Bars(Running program, string chart)
    {
        using var shown = JsonDocument.Parse(program.Run("show", chart, "--json").Out);
        return [.. shown.RootElement.Clone().GetProperty("bars").EnumerateArray()];
    }

    private static List<string> Onsets(List<JsonElement> bars, string role) =>
        [.. bars.Index().SelectMany(bar => bar.Item.GetProperty("events").EnumerateArray().Where(note => note.GetProperty("role").GetString() == role).Select(note => $"{bar.Index}: {note.GetProperty("onset")}")).Distinct()];

    private static Span Fraction(JsonElement of, string name)
    {
        var parts = of.GetProperty(name).GetString()!.Split('/');
        return Span.Of(int.Parse(parts[0], System.Globalization.CultureInfo.InvariantCulture), parts.Length == 1 ? 1 : int.Parse(parts[1], System.Globalization.CultureInfo.InvariantCulture));
    }
}
