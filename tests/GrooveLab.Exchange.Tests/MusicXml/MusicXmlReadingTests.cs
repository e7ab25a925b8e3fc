using System.IO.Compression;
using System.Text;
using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>The collections of real scores, against an independent reading.</summary>
public sealed class MusicXmlReadingTests
{
    private static readonly string[] Collections = ["musicxml-testsuite", "openscore-lieder", "openscore-common-time"];

    // Source: each file itself, walked by MusicXmlPlainReading.
    [Fact]
    public void Read_EveryScoreOfTheCollections_HasItsNotesAndSyllables()
    {
        var files = 0;
        foreach (var file in Files())
        {
            files++;
            var expected = MusicXmlPlainReading.OfXml(MusicXmlFile.Open(file));
            Assert.True(expected.Count > 5, file);
            Assert.Equal(expected, MusicXmlPlainReading.OfMusic(MusicXmlFile.Music(file)));
        }

        Assert.True(files >= 15, $"only {files} scores");
    }

    // Source: the same files.
    [Fact]
    public void Read_EveryScoreOfTheCollectionsTimewise_IsTheSameMusic()
    {
        foreach (var file in Files())
        {
            var score = MusicXmlFile.Open(file);
            var timewise = Timewise(score).ToString(SaveOptions.DisableFormatting);
            Assert.Equal(MusicXmlPlainReading.OfXml(score), MusicXmlPlainReading.OfMusic(MusicXmlFile.MusicOf(timewise)));
        }
    }

    [Fact]
    public void Read_EveryScoreOfTheCollections_HasNoWarning()
    {
        foreach (var file in Files())
        {
            var reading = MusicXmlScoreReader.Read(File.ReadAllBytes(file), new ScoreOptions { Name = file });
            Assert.Equal([], reading.Warnings.Where(warning => !warning.What.StartsWith("a duration differs", StringComparison.Ordinal)).Select(warning => warning.ToString()));
        }
    }

    [Theory]
    [InlineData("utf-8", false)]
    [InlineData("utf-8", true)]
    [InlineData("utf-16", true)]
    [InlineData("utf-16", false)]
    [InlineData("utf-16BE", true)]
    [InlineData("utf-16BE", false)]
    [InlineData("utf-32", true)]
    [InlineData("iso-8859-1", false)]
    [InlineData("windows-1252", false)]
    public void Read_Encoding_IsAsDeclaredOrMarked(string name, bool hasMark)
    {
        var encoding = CodePagesEncodingProvider.Instance.GetEncoding(name) ?? Encoding.GetEncoding(name);
        var text = $"<?xml version=\"1.0\" encoding=\"{name}\"?>\r\n" + MusicXmlTexts.Score(1, Sung("größer")).ToString().ReplaceLineEndings("\r\n");
        byte[] bytes = [.. hasMark ? encoding.GetPreamble() : [], .. encoding.GetBytes(text)];
        var reading = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = "a.musicxml" });
        Assert.True(reading.IsRead, string.Join('\n', reading.Errors));
        Assert.Equal("größer", reading.Music.Parts[0].Measures[0].Voices[0].Events[0].Lyrics[0].Text);
        Assert.Empty(reading.Warnings);
    }

    [Fact]
    public void Read_BytesOutsideTheEncoding_WarnsWithTheLine()
    {
        var text = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + MusicXmlTexts.Score(1, Sung("größer")).ToString(SaveOptions.DisableFormatting);
        var reading = MusicXmlScoreReader.Read(Encoding.Latin1.GetBytes(text), new ScoreOptions { Name = "a.musicxml" });
        Assert.True(reading.IsRead);
        Assert.Equal("a.musicxml:2: some characters are not in the file's encoding; read them as \uFFFD; save the file as UTF-8", reading.Warnings.Single().ToString());
    }

    [Fact]
    public void Read_DocumentType_IsNeitherFetchedNorAnError()
    {
        var text = "<!DOCTYPE score-partwise PUBLIC \"-//X//Y\" \"http://127.0.0.1:1/partwise.dtd\" [<!-- don't --> <!ELEMENT a ANY>]>" + MusicXmlTexts.Score(1, Sung("la"));
        Assert.Single(MusicXmlFile.MusicOf(text).Measures);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Read_Archive_ReadsWhatTheContainerNamesOrTheOnlyScore(bool hasContainer)
    {
        var score = MusicXmlTexts.Score(1, Sung("la")).ToString();
        var files = new List<(string, string)> { ("scores/song.musicxml", score) };
        if (hasContainer)
        {
            files.Insert(0, ("META-INF/container.xml", "<container><rootfiles><rootfile full-path=\"scores/song.musicxml\"/></rootfiles></container>"));
            files.Insert(1, ("other.xml", "<x/>"));
        }

        var reading = MusicXmlScoreReader.Read(Zip([.. files]), new ScoreOptions { Name = "a.mxl" });
        Assert.True(reading.IsRead, string.Join('\n', reading.Errors));
        Assert.Equal(hasContainer ? 0 : 1, reading.Warnings.Count);
    }

    internal static byte[] Zip(params (string Name, string Text)[] files)
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var (name, text) in files)
            {
                using var entry = archive.CreateEntry(name).Open();
                entry.Write(Encoding.UTF8.GetBytes(text));
            }
        }

        return stream.ToArray();
    }

    internal static XElement Timewise(XDocument score)
    {
        var parts = score.Root!.Elements("part").ToList();
        var root = new XElement("score-timewise", score.Root.Elements().Where(element => element.Name.LocalName != "part"));
        for (var i = 0; i < parts.Max(part => part.Elements("measure").Count()); i++)
        {
            var measures = parts.Select(part => (Part: part, Measure: part.Elements("measure").ElementAtOrDefault(i))).Where(one => one.Measure is not null).ToList();
            root.Add(new XElement(
                "measure",
                measures[0].Measure!.Attributes(),
                measures.Select(one => new XElement("part", one.Part.Attributes(), one.Measure!.Nodes()))));
        }

        return root;
    }

    private static string Sung(string syllable) => MusicXmlTexts.Note("C4", 4, "whole", $"<lyric number=\"1\"><syllabic>single</syllabic><text>{syllable}</text></lyric>");

    private static IEnumerable<string> Files() => Collections.Select(References.RequireData).SelectMany(Directory.EnumerateFiles)
        .Where(file => Path.GetExtension(file) is ".xml" or ".musicxml" or ".mxl").Order(StringComparer.Ordinal);
}
