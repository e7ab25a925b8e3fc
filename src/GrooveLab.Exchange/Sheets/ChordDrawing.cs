using GrooveLab.Music.Harmony;

namespace GrooveLab.Exchange.Sheets;

/// <summary>A chord symbol to be drawn: root and bass large, the kind small; sharps and flats are drawn, since many fonts lack them.</summary>
internal sealed class ChordDrawing
{
    /// <summary>The font size of roots and basses, in millimetres: their capitals are at least 7 mm high in every usual font
    /// (<see cref="TextMeasure.CapitalHeight"/>).</summary>
    public const double Size = 11;

    /// <summary>How far root and kind reach over and under the baseline, as boxes of text.</summary>
    public const double Above = 10.4, Below = 2.6;

    private const double KindSize = 6.4;
    private const double SignWidth = 3.4;
    private const double Gap = 0.5;

    private readonly ChordSymbol _chord;
    private readonly string _kind;

    public ChordDrawing(ChordSymbol chord)
    {
        _chord = chord;
        _kind = chord.IsNoChord ? string.Empty : KindOf(chord);
        Width = chord.IsNoChord ? TextMeasure.Width(chord.Text, Size, bold: true)
            : NameWidth(chord.Root) + (_kind.Length > 0 ? Gap + TextMeasure.Width(_kind, KindSize, bold: true) : 0)
            + (chord.HasSlashBass ? Gap + Slash + NameWidth(chord.Bass) : 0);
    }

    /// <summary>Its width when it is not pressed.</summary>
    public double Width { get; }

    // The width of the slash before the bass.
    private const double Slash = 3.6;

    /// <summary>Draws it.</summary>
    /// <param name="svg">The drawing.</param>
    /// <param name="x">Its left edge.</param>
    /// <param name="y">Its baseline.</param>
    /// <param name="most">The width that is there: it is pressed into it.</param>
    public void Draw(SvgDrawing svg, double x, double y, double most)
    {
        svg.Begin(x, y, Width <= most ? 1 : Math.Max(0.05, most / Width), "chord");
        if (_chord.IsNoChord)
        {
            svg.Text(0, 0, _chord.Text, Size, double.MaxValue, bold: true, "cap");
        }
        else
        {
            var at = Name(svg, 0, _chord.Root);
            if (_kind.Length > 0)
            {
                at += Gap + svg.Text(at + Gap, 0, _kind, KindSize, double.MaxValue, bold: true);
            }

            if (_chord.HasSlashBass)
            {
                svg.Line(at + Gap + 0.2, 1.4, at + Gap + Slash - 0.2, -8.4, 0.9);
                Name(svg, at + Gap + Slash, _chord.Bass);
            }
        }

        svg.End();
    }

    /// <summary>The chord in a line of text, with musical signs.</summary>
    public static string Plain(ChordSymbol chord) => chord.IsNoChord ? chord.Text : chord.Root.ToSigns() + KindOf(chord) + (chord.HasSlashBass ? "/" + chord.Bass.ToSigns() : string.Empty);

    private static double NameWidth(PitchName name) => TextMeasure.Width(name.Letter.ToString(), Size, bold: true) + (Math.Abs(name.Accidental) * SignWidth);

    private static double Name(SvgDrawing svg, double x, PitchName name)
    {
        x += svg.Text(x, 0, name.Letter.ToString(), Size, double.MaxValue, bold: true, "cap");
        for (var i = 0; i < Math.Abs(name.Accidental); i++, x += SignWidth)
        {
            if (name.Accidental > 0)
            {
                svg.Line(x + 1.15, -7.9, x + 1.15, -3.1, 0.4);
                svg.Line(x + 2.25, -8.2, x + 2.25, -3.4, 0.4);
                svg.Line(x + 0.45, -6.1, x + 2.95, -6.9, 0.75);
                svg.Line(x + 0.45, -4.2, x + 2.95, -5.0, 0.75);
            }
            else
            {
                svg.Path(FormattableString.Invariant($"M{x + 0.7:0.##} -8.6V-3.1C{x + 2.2:0.##} -4 {x + 3.1:0.##} -4.9 {x + 2.7:0.##} -5.8C{x + 2.3:0.##} -6.6 {x + 1.2:0.##} -6.2 {x + 0.7:0.##} -5.4"), 0.5);
            }
        }

        return x;
    }

    // What is written between the root and the slash of the bass.
    private static string KindOf(ChordSymbol chord)
    {
        var text = chord.Text;
        var start = 1;
        var signs = Math.Abs(chord.Root.Accidental);
        if (signs > 0 && text.Length > 1)
        {
            start += text[1] == 'x' ? 1 : char.IsSurrogate(text[1]) ? 2 : signs;
        }

        var end = text.Length;
        if (chord.HasSlashBass && text.LastIndexOf('/') is var slash && slash >= start)
        {
            end = slash;
        }

        return text[Math.Min(start, end)..end];
    }
}
