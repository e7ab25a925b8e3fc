using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// The text of a chart as someone wrote it. Immutable; it is parsed once, whether it is read or edited. <see cref="ChartDifference"/> edits it:
/// what changes is written into the text, everything else stays as it is, byte for byte.
/// </summary>
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

    /// <summary>The name that problems give it.</summary>
    public string Name { get; }

    /// <summary>The text, with its byte order mark if it has one.</summary>
    public string Text { get; }

    /// <summary>The instruments that it can name.</summary>
    internal InstrumentCatalogue Catalogue { get; }

    /// <summary>Takes a text.</summary>
    /// <param name="text">The text, right or wrong.</param>
    /// <param name="name">The name that problems give it.</param>
    /// <param name="catalogue">The instruments; null for those that come with the program.</param>
    public static ChartDocument FromText(string text, string name, InstrumentCatalogue? catalogue = null) =>
        FromText(text, name, catalogue, ChartReader.Parse);

    /// <summary>Takes a text that is parsed by another parser, such as one that counts.</summary>
    internal static ChartDocument FromText(string text, string name, InstrumentCatalogue? catalogue, ChartReader.Parser parse) =>
        new(text, name, catalogue ?? InstrumentFile.BuiltIn, parse);

    /// <summary>Takes a chart that has no text yet.</summary>
    /// <exception cref="ChartProblemException">The chart cannot be written (see <see cref="ChartWriter"/>).</exception>
    public static ChartDocument FromChart(Chart chart, string name, InstrumentCatalogue? catalogue = null) =>
        FromText(ChartWriter.Write(chart, catalogue), name, catalogue);

    /// <summary>Opens a file.</summary>
    /// <exception cref="IOException">It cannot be read, is larger than a chart, or is not UTF-8.</exception>
    public static ChartDocument Open(string path, InstrumentCatalogue? catalogue = null)
    {
        var result = TextFile.Read(path, out var text);
        return text is null ? throw new IOException(result!.ToString()) : FromText(text, path, catalogue);
    }

    /// <summary>Reads the chart, or its problems.</summary>
    public ChartReadResult Read() => _read.Value.Result;

    /// <summary>The tree of a text that was read without a problem; places in it are those of <see cref="Source"/>.</summary>
    internal TomlTable Root => _read.Value.Root!;

    /// <summary>The text without its byte order mark.</summary>
    internal SourceText Source => _source;

    /// <summary>A document of the same name with another text, given without a byte order mark.</summary>
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
