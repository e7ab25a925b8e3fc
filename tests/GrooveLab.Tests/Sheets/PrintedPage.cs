using System.Globalization;
using System.Xml.Linq;

namespace GrooveLab.Tests.Sheets;

/// <summary>A word on a printed page, in points from the page's top left corner.</summary>
internal sealed record PrintedWord(string Text, double Left, double Top, double Right, double Bottom);

/// <summary>A printed page.</summary>
/// <param name="Width">Its width in points of 1/72 inch.</param>
/// <param name="Height">Its height in points.</param>
/// <param name="Words">Its words.</param>
internal sealed record PrintedPage(double Width, double Height, IReadOnlyList<PrintedWord> Words)
{
    /// <summary>Reads what pdftotext -bbox writes.</summary>
    public static IReadOnlyList<PrintedPage> Read(string text)
    {
        // It passes control characters on, which XML forbids.
        var document = XDocument.Parse(string.Concat(text.Where(c => c >= ' ' || c is '\n' or '\t')));
        return
        [
            .. document.Descendants().Where(element => element.Name.LocalName == "page").Select(page => new PrintedPage(
                Number(page, "width"),
                Number(page, "height"),
                [
                    .. page.Elements().Where(element => element.Name.LocalName == "word")
                        .Select(word => new PrintedWord(word.Value, Number(word, "xMin"), Number(word, "yMin"), Number(word, "xMax"), Number(word, "yMax"))),
                ])),
        ];
    }

    private static double Number(XElement element, string name) => double.Parse(element.Attribute(name)!.Value, CultureInfo.InvariantCulture);
}
