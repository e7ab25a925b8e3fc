using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>What an odd score becomes: a chart that reads without errors, with a remark on what it could not hold.</summary>
public sealed class ReadsBackTests
{
    private const string Head = "<score-partwise><part-list><score-part id=\"P1\"><part-name>Voice</part-name></score-part></part-list><part id=\"P1\"><measure number=\"1\">"
        + "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>";

    private const string Tail = "</measure></part></score-partwise>";

    public static TheoryData<string, string, string> Abc => new()
    {
        { "a tune wider than every instrument", "C,,,, C D E | c' d'' e''' f |", "note beyond the range of every instrument" },
        { "a space in a chord symbol", "\"A2 m\"C D E F |", "" },
        { "a number sign as a word", "CDEF|\nw:# one two #", "" },
        { "an ending of a huge number", "|: CDEF |[2147483647-2147483647 CDEF :|", "an ending must be for playings 1 to 32" },
        { "a voice without a name beside the first", "CDEF|\nV:\nCDEF|\nV:1\nEFGA|", "a V: field without a voice" },
        { "three sharps on a note", "[K:C transpose=2]^^E ^^B E D |", "" },
        { "a syllable where a tie goes on", "C4-|C4|\nw:one two", "syllable on a note that only continues a tie" },
        { "a tempo that counts two whole notes", "[Q:2/1=20]CDEF|", "" },
        { "a hundred and one verses", "CDEF|\n" + string.Concat(Enumerable.Repeat("w:la la la la\n", 101)), "verses beyond 100 below a line of music" },
        { "more grace notes than a chart shows", "{" + new string('c', 100) + "}C D E F |", "grace notes beyond 64 before a note" },
        { "more notes in a chord than anyone plays", "[" + new string('C', 100) + "] D E F |", "notes beyond 64 in a chord" },
        { "more signs than a note can have", new string('(', 100) + "C D E F" + new string(')', 100), "signs beyond 64 at a note" },
        { "more fields than a bar can have", string.Concat(Enumerable.Repeat("[Q:1/4=90][Q:1/4=91]", 200)) + "C D E F |", "marks beyond 256 in a bar" },
    };

    public static TheoryData<string, string, string> MusicXml => new()
    {
        { "an empty syllable", Note("<lyric><text>la</text></lyric>") + Note("<lyric><text> </text></lyric>") + Note("<lyric><text>li</text></lyric>") + Note(""), "" },
        { "a tuplet of 1024", string.Concat(Enumerable.Repeat(Note("<type>quarter</type><time-modification><actual-notes>1024</actual-notes><normal-notes>1023</normal-notes></time-modification>"), 4)), "tuplet that a chart does not have" },
        { "a rest as a grace note", "<note><grace/><rest/></note>" + Note("") + Note("") + Note("") + Note(""), "a rest is marked as a grace note" },
        { "a part transposed out of hearing", "<attributes><transpose><chromatic>-100</chromatic></transpose></attributes>" + Note("") + Note("") + Note("") + Note(""), "note beyond the range of every instrument" },
        { "a place finer than a chart can write", "<attributes><divisions>10000000</divisions></attributes>" + Note("").Replace("<duration>1<", "<duration>19999999<", StringComparison.Ordinal) + Note("").Replace("<duration>1<", "<duration>20000001<", StringComparison.Ordinal), "places finer than a chart can write" },
        { "a measure of a length finer than a chart can write", "<attributes><divisions>10000000</divisions></attributes>" + Note("").Replace("<duration>1<", "<duration>90000001<", StringComparison.Ordinal), "" },
        { "a tempo that is no decimal number", "<sound tempo=\"141.478771\"/>" + Note("") + Note("") + Note("") + Note(""), "" },
    };

    [Theory]
    [MemberData(nameof(Abc))]
    public void Make_OddTune_IsAChartThatReads(string what, string body, string remark)
    {
        Assert.NotEmpty(what);
        ReadsBack(Encoding.UTF8.GetBytes("X:1\nT:Odd\nM:4/4\nL:1/4\nK:C\n" + body + "\n"), ScoreFormat.Abc, remark);
    }

    [Theory]
    [MemberData(nameof(MusicXml))]
    public void Make_OddMeasure_IsAChartThatReads(string what, string measure, string remark)
    {
        Assert.NotEmpty(what);
        ReadsBack(Encoding.UTF8.GetBytes(Head + measure + Tail), ScoreFormat.MusicXml, remark);
    }

    [Fact]
    public void Make_MidiTempoOfManyDecimals_IsAChartThatReads() => ReadsBack(
        FourWays.MidiOf("0 FF 51 03 06 78 9D\n0 90 3C 40\n480 80 3C 40\n0 FF 2F 00"), ScoreFormat.Midi, "");

    [Fact]
    public void Make_TitleWithAnUnreadableByte_IsAChartThatReads()
    {
        var tune = Encoding.Latin1.GetBytes("X:1\nT:\u00EF\u00BF\u00BDlack Water\nM:4/4\nL:1/4\nK:C\nCDEF|\n");
        ReadsBack(tune, ScoreFormat.Abc, "");
    }

    [Fact]
    public void Make_ChartLargerThanAFileMayBe_IsRefused()
    {
        var imported = Import(Encoding.UTF8.GetBytes("X:1\nT:" + new string('x', 2_000_000) + "\nK:C\nCDEF|\n"), ScoreFormat.Abc);
        Assert.Null(imported.Text);
        Assert.Contains("larger than 1 MB", imported.Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public void Make_AThousandMarkedSections_IsRefused()
    {
        var imported = Import(Encoding.UTF8.GetBytes("X:1\nM:4/4\nL:1/4\nK:C\n" + string.Concat(Enumerable.Range(0, 1001).Select(i => $"P:{i}\n[K:{"CDEFG"[i % 5]}]{"CDEFGAB"[i % 7]}{"CDEFGAB"[i / 7 % 7]}{"CDEFGAB"[i / 49 % 7]}{"CDEFGAB"[i / 343 % 7]}|\n"))), ScoreFormat.Abc);
        Assert.Contains("more than 1000 sections", imported.Refusal, StringComparison.Ordinal);
    }

    private static void ReadsBack(byte[] bytes, ScoreFormat format, string remark)
    {
        var imported = Import(bytes, format);
        Assert.True(imported.Text is not null, string.Join('\n', imported.Reading.Errors) + imported.Refusal);
        Assert.Empty(ChartReader.ReadText(imported.Text, "chart.toml").Problems);
        var said = imported.Reading.Warnings.Concat(imported.Reading.NotCarried).Select(one => one.ToString()).Concat(imported.Song!.NotCarried.Select(one => one.What));
        Assert.Contains(said.Append(""), line => line.Contains(remark, StringComparison.Ordinal));
    }

    private static ImportedScore Import(byte[] bytes, ScoreFormat format) => ScoreImport.Make(bytes, format, new ScoreOptions { Name = "odd" });

    private static string Note(string rest) => "<note><pitch><step>G</step><octave>4</octave></pitch><duration>1</duration>" + rest + "</note>";
}
