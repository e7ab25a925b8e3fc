using System.Text;
using static GrooveLab.Exchange.Sheets.Markup;

namespace GrooveLab.Exchange.Sheets;

/// <summary>A drawing in millimetres that stands in a line of an HTML page like a letter.</summary>
/// <param name="width">Its width.</param>
/// <param name="height">Its height.</param>
internal sealed class SvgDrawing(double width, double height)
{
    /// <summary>The usual width of a line.</summary>
    public const double Thin = 0.25;

    private readonly StringBuilder _content = new();

    /// <summary>Its width.</summary>
    public double Width => width;

    /// <summary>A straight line.</summary>
    public void Line(double x1, double y1, double x2, double y2, double thick = Thin) =>
        _content.Append($"<line x1=\"{Number(x1)}\" y1=\"{Number(y1)}\" x2=\"{Number(x2)}\" y2=\"{Number(y2)}\" stroke-width=\"{Number(thick)}\"/>");

    /// <summary>A line by its path; filled when <paramref name="thick"/> is zero.</summary>
    public void Path(string path, double thick = Thin, bool dashed = false) => _content.Append(thick == 0
        ? $"<path class=\"f\" d=\"{path}\"/>"
        : $"<path d=\"{path}\" stroke-width=\"{Number(thick)}\"{(dashed ? " stroke-dasharray=\"0.8 0.8\"" : string.Empty)}/>");

    /// <summary>A filled dot; hollow when not <paramref name="filled"/>.</summary>
    public void Dot(double x, double y, double radius, bool filled = true) => _content.Append(filled
        ? $"<circle class=\"f\" cx=\"{Number(x)}\" cy=\"{Number(y)}\" r=\"{Number(radius)}\"/>"
        : $"<circle class=\"h\" cx=\"{Number(x)}\" cy=\"{Number(y)}\" r=\"{Number(radius)}\" stroke-width=\"0.25\"/>");

    /// <summary>A filled bar; hollow when not <paramref name="filled"/>.</summary>
    public void Bar(double x, double y, double wide, double high, bool filled = true) => _content.Append(filled
        ? $"<rect class=\"f\" x=\"{Number(x)}\" y=\"{Number(y)}\" width=\"{Number(wide)}\" height=\"{Number(high)}\"/>"
        : $"<rect class=\"h\" x=\"{Number(x)}\" y=\"{Number(y)}\" width=\"{Number(wide)}\" height=\"{Number(high)}\" stroke-width=\"0.25\"/>");

    /// <summary>Text that fills the same width in every font: its own by the table, or what is there.</summary>
    /// <param name="x">Its left edge.</param>
    /// <param name="y">Its baseline.</param>
    /// <param name="text">The text.</param>
    /// <param name="size">The font size.</param>
    /// <param name="most">The width that is there.</param>
    /// <param name="bold">Whether it is bold.</param>
    /// <param name="kind">A class, for finding it again; empty for none.</param>
    /// <returns>The width that it fills.</returns>
    public double Text(double x, double y, string text, double size, double most, bool bold = false, string kind = "")
    {
        var fitted = TextMeasure.Fit(text, size, most, bold);
        return Text(x, y, fitted, size, bold, kind);
    }

    /// <summary>Text in the middle of a width, or filling it.</summary>
    public double Centred(double middle, double y, string text, double size, double most, bool bold = false)
    {
        var fitted = TextMeasure.Fit(text, size, most, bold);
        return Text(middle - (fitted.Width / 2), y, fitted, size, bold, string.Empty);
    }

    /// <summary>Fitted text.</summary>
    public double Text(double x, double y, FittedText fitted, double size, bool bold, string kind)
    {
        if (string.IsNullOrWhiteSpace(fitted.Text) || fitted.Width <= 0)
        {
            return 0;
        }

        var classes = string.Join(' ', new[] { bold ? "b" : string.Empty, kind }.Where(word => word.Length > 0));
        _content.Append($"<text{(classes.Length > 0 ? $" class=\"{classes}\"" : string.Empty)} x=\"{Number(x)}\" y=\"{Number(y)}\" font-size=\"{Number(size)}\"")
            .Append($" textLength=\"{Number(fitted.Width)}\" lengthAdjust=\"spacingAndGlyphs\">{Escape(fitted.Text)}</text>");
        return fitted.Width;
    }

    /// <summary>Begins a group at a place, pressed sideways.</summary>
    public void Begin(double x, double y, double press, string kind = "") => _content.Append(
        $"<g{(kind.Length > 0 ? $" class=\"{kind}\"" : string.Empty)} transform=\"translate({Number(x)} {Number(y)}){(press < 1 ? $" scale({press.ToString("0.###", System.Globalization.CultureInfo.InvariantCulture)} 1)" : string.Empty)}\">");

    /// <summary>Ends a group.</summary>
    public void End() => _content.Append("</g>");

    /// <summary>The drawing as an element.</summary>
    /// <param name="kind">Its class; empty for none.</param>
    /// <param name="said">What it shows, for those who hear the page; empty when its text says it.</param>
    /// <param name="zoom">How much larger it stands on the page than it was drawn.</param>
    public string Element(string kind = "", string said = "", double zoom = 1) =>
        $"<svg{(kind.Length > 0 ? $" class=\"{kind}\"" : string.Empty)} width=\"{Number(width * zoom)}mm\" height=\"{Number(height * zoom)}mm\" viewBox=\"0 0 {Number(width)} {Number(height)}\""
        + (said.Length > 0 ? $" role=\"img\" aria-label=\"{Escape(said)}\"" : string.Empty) + $">{_content}</svg>";
}
