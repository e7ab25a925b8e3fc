using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>The text of a chart as written by a user. Immutable; parsed once for both reading and editing. <see cref="ChartDifference"/>
/// edits it: changes are written into the text, everything else stays the same, byte for byte.</summary>
public sealed class ChartDocument
{
    private readonly bool _byteOrderMark;
    private readonly ChartReader.Parser _parse;
    private readonly SourceText _source;
    private readonly Lazy<(ChartReadResult Result, TomlTable? Root)> _read;

    private ChartDocument(string text, string name, InstrumentCatalogue catalogue, ChartReader.Parser parse)
    {
        Text = text;
        Name = name;
        Catalogue = catalogue;
        _byteOrderMark = text.StartsWith('\uFEFF');
        _parse = parse;
        _source = new SourceText(_byteOrderMark ? text[1..] : text);
        _read = new Lazy<(ChartReadResult Result, TomlTable? Root)>(ReadOnce);
    }

    /// <summary>Its name in problem messages.</summary>
    public string Name { get; }

    /// <summary>The text, with its byte order mark if it has one.</summary>
    public string Text { get; }

    /// <summary>The instruments available to it.</summary>
    internal InstrumentCatalogue Catalogue { get; }

    /// <summary>Creates a document from a text.</summary>
    /// <param name="text">The text, valid or not.</param>
    /// <param name="name">Its name in problem messages.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    public static ChartDocument FromText(string text, string name, InstrumentCatalogue? catalogue = null) =>
        FromText(text, name, catalogue, ChartReader.Parse);

    /// <summary>Creates a document with another parser, such as a counting one.</summary>
    internal static ChartDocument FromText(string text, string name, InstrumentCatalogue? catalogue, ChartReader.Parser parse) =>
        new(text, name, catalogue ?? InstrumentFile.BuiltIn, parse);

    /// <summary>Creates a document for a chart without a text.</summary>
    /// <exception cref="ChartProblemException">The chart cannot be written (see <see cref="ChartWriter"/>).</exception>
    public static ChartDocument FromChart(Chart chart, string name, InstrumentCatalogue? catalogue = null) =>
        FromText(ChartWriter.Write(chart, catalogue), name, catalogue);

    /// <summary>Opens a file.</summary>
    /// <exception cref="IOException">It cannot be read, is too large, or is not UTF-8.</exception>
    public static ChartDocument Open(string path, InstrumentCatalogue? catalogue = null)
    {
        var result = TextFile.Read(path, out var text);
        return text is null ? throw new IOException(result!.ToString()) : FromText(text, path, catalogue);
    }

    /// <summary>Reads the chart, or its problems.</summary>
    public ChartReadResult Read() => _read.Value.Result;

    /// <summary>The tree of a text that was read without a problem; its places refer to <see cref="Source"/>.</summary>
    internal TomlTable Root => _read.Value.Root!;

    /// <summary>The text without its byte order mark.</summary>
    internal SourceText Source => _source;

    /// <summary>A document of the same name with another text, which excludes the byte order mark.</summary>
    internal ChartDocument With(string body) => new(_byteOrderMark ? '\uFEFF' + body : body, Name, Catalogue, _parse);

    private (ChartReadResult Result, TomlTable? Root) ReadOnce()
    {
        if (Text.Length > ChartReader.LargestFile)
        {
            return (ChartReader.ReadText(Text, Name, Catalogue), null);
        }

        var result = ChartReader.ReadTree(_source, Name, Catalogue, _parse, out var root);
        return (result, root);
    }
}
