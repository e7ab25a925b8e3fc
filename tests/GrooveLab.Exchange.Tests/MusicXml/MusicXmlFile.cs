using System.IO.Compression;
using System.Text;
using System.Xml;
using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Opens MusicXML files, plain and compressed: reads no document type and nothing outside the file.</summary>
internal static class MusicXmlFile
{
    private static readonly XmlReaderSettings Settings = new() { DtdProcessing = DtdProcessing.Ignore, XmlResolver = null };

    public static XDocument Open(string path)
    {
        if (!path.EndsWith(".mxl", StringComparison.OrdinalIgnoreCase))
        {
            using var plain = File.OpenRead(path);
            return Read(plain);
        }

        using var archive = ZipFile.OpenRead(path);
        using var container = archive.GetEntry("META-INF/container.xml")!.Open();
        var root = Read(container).Descendants().First(element => element.Name.LocalName == "rootfile").Attribute("full-path")!.Value;
        using var score = archive.GetEntry(root)!.Open();
        return Read(score);
    }

    /// <summary>What the product reads from a file; it must have no errors.</summary>
    public static WrittenMusic Music(string path) => Music(File.ReadAllBytes(path), path);

    /// <summary>What the product reads from a score; it must have no errors.</summary>
    public static WrittenMusic Music(XDocument score, string name = "score.musicxml") =>
        Music(Encoding.UTF8.GetBytes(score.ToString(SaveOptions.DisableFormatting)), name);

    /// <summary>What the product reads from a text; it must have no errors.</summary>
    public static WrittenMusic MusicOf(string text) => Music(Encoding.UTF8.GetBytes(text), "score.musicxml");

    public static ScoreReading Reading(string text) => MusicXmlScoreReader.Read(Encoding.UTF8.GetBytes(text), new ScoreOptions { Name = "score.musicxml" });

    /// <summary>The bytes that the product writes.</summary>
    public static byte[] Bytes(WrittenMusic music)
    {
        using var stream = new MemoryStream();
        MusicXmlScoreWriter.Write(music, stream);
        return stream.ToArray();
    }

    /// <summary>What the product writes, as a document.</summary>
    public static XDocument Written(WrittenMusic music)
    {
        using var stream = new MemoryStream(Bytes(music));
        return Read(stream);
    }

    public static XDocument Parse(string text)
    {
        using var reader = XmlReader.Create(new StringReader(text), Settings);
        return Partwise(XDocument.Load(reader, LoadOptions.SetLineInfo | LoadOptions.PreserveWhitespace));
    }

    private static XDocument Read(Stream stream)
    {
        using var reader = XmlReader.Create(stream, Settings);
        return Partwise(XDocument.Load(reader, LoadOptions.SetLineInfo | LoadOptions.PreserveWhitespace));
    }

    /// <summary>What the product reads from bytes; it must have no errors.</summary>
    public static WrittenMusic Music(byte[] bytes, string name = "score.musicxml")
    {
        var reading = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = name });
        Assert.True(reading.IsRead, string.Join('\n', reading.Errors));
        return reading.Music;
    }

    // The same score measure by measure instead of part by part.
    private static XDocument Partwise(XDocument score)
    {
        if (score.Root!.Name.LocalName != "score-timewise")
        {
            return score;
        }

        var root = new XElement("score-partwise", score.Root.Attributes(), score.Root.Elements().Where(element => element.Name.LocalName != "measure"));
        foreach (var id in score.Root.Elements("measure").Elements("part").Select(part => part.Attribute("id")!.Value).Distinct(StringComparer.Ordinal))
        {
            root.Add(new XElement("part", new XAttribute("id", id), score.Root.Elements("measure").Select(measure => new XElement(
                "measure", measure.Attributes(), measure.Elements("part").First(part => part.Attribute("id")!.Value == id).Nodes()))));
        }

        return new XDocument(root);
    }
}
