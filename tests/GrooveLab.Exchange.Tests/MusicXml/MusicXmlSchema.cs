using System.Xml;
using System.Xml.Linq;
using System.Xml.Schema;
using GrooveLab.Testing;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>The MusicXML 4.0 schema, for checking scores against it.</summary>
internal static class MusicXmlSchema
{
    /// <summary>Elements only used inside excluded ones, in timewise scores or in linked files.</summary>
    public static readonly HashSet<string> InsideOutside = new(StringComparer.Ordinal)
    {
        "score-timewise", "encoder", "encoding-date", "encoding-description", "software", "supports", "miscellaneous-field",
        "appearance", "distance", "glyph", "line-width", "note-size", "other-appearance", "scaling", "millimeters", "tenths", "music-font", "word-font",
        "lyric-font", "lyric-language", "page-layout", "page-height", "page-width", "page-margins", "left-margin", "right-margin", "top-margin",
        "bottom-margin", "system-layout", "system-margins", "system-distance", "top-system-distance", "system-dividers", "left-divider", "right-divider",
        "staff-layout", "staff-distance", "measure-layout", "measure-distance", "display-text", "credit-type", "credit-image", "credit-words",
        "credit-symbol", "group-name", "group-name-display", "group-abbreviation", "group-abbreviation-display", "group-symbol", "group-barline",
        "group-time", "group-link", "instrument-link", "feature", "ipa", "mute", "semi-pitched", "other-play", "player-name", "virtual-library",
        "virtual-name", "assess", "wait", "other-listen", "sync", "other-listening", "line", "clef-octave-change",
    };

    private static readonly Lazy<XmlSchemaSet> Schema = new(() =>
    {
        var folder = References.RequireData("musicxml-4.0-xsd");
        var set = new XmlSchemaSet { XmlResolver = null };
        var settings = new XmlReaderSettings { DtdProcessing = DtdProcessing.Ignore, XmlResolver = null };
        foreach (var (name, space) in new[]
        {
            ("xml.xsd", "http://www.w3.org/XML/1998/namespace"), ("xlink.xsd", "http://www.w3.org/1999/xlink"), ("musicxml.xsd", (string?)null),
        })
        {
            using var reader = XmlReader.Create(Path.Combine(folder, name), settings);
            set.Add(space, reader);
        }

        set.Compile();
        return set;
    });

    public static IReadOnlyList<string> Problems(XDocument score)
    {
        var problems = new List<string>();
        new XDocument(score).Validate(Schema.Value, (_, found) => problems.Add(found.Message));
        return problems;
    }

    public static IEnumerable<string> ElementNames() => XDocument.Load(Path.Combine(References.RequireData("musicxml-4.0-xsd"), "musicxml.xsd"))
        .Descendants(XName.Get("element", XmlSchema.Namespace))
        .Select(element => element.Attribute("name")?.Value)
        .OfType<string>()
        .Distinct(StringComparer.Ordinal);
}
