using System.IO.Compression;
using System.Xml;
using System.Xml.Linq;

namespace GrooveLab.Music.Tests.Notation;

/// <summary>Opens MusicXML files, plain and compressed: no document type is read, nothing outside the file either.</summary>
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

    public static XDocument Parse(string text)
    {
        using var reader = XmlReader.Create(new StringReader(text), Settings);
        return XDocument.Load(reader, LoadOptions.SetLineInfo | LoadOptions.PreserveWhitespace);
    }

    private static XDocument Read(Stream stream)
    {
        using var reader = XmlReader.Create(stream, Settings);
        return XDocument.Load(reader, LoadOptions.SetLineInfo | LoadOptions.PreserveWhitespace);
    }
}
