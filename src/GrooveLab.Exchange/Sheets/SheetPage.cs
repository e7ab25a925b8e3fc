using System.Globalization;
using System.Text;
using GrooveLab.Music.Sheets;
using static GrooveLab.Exchange.Sheets.Markup;

namespace GrooveLab.Exchange.Sheets;

/// <summary>
/// Writes sheets as HTML files that contain all they need: no script, no font, no picture from elsewhere. Printed, a row is 186 mm wide, which both
/// A4 and Letter hold between margins of 12 mm; no page breaks inside a row. On a narrow screen the bars of a row wrap.
/// </summary>
public static class SheetPage
{
    private const double PatternInColumn = 88;
    private const double PlayersZoom = 1.5;
    private const int LongestFooter = 60;

    private const string Style = """
        @page { size: auto; margin: 12mm 12mm 14mm; @bottom-right { content: counter(page) " / " counter(pages); font: 9pt sans-serif; } }
        * { box-sizing: border-box; }
        body { margin: 0; padding: 4mm; background: #fff; color: #000; font: 11pt/1.35 "Liberation Sans", Arial, Helvetica, sans-serif; }
        main { max-width: 186mm; margin: 0 auto; }
        h1 { font-size: 21pt; line-height: 1.15; margin: 0 0 1mm; overflow-wrap: anywhere; }
        h2 { font-size: 13pt; line-height: 1.2; margin: 4mm 0 1.5mm; padding-top: 0.6mm; border-top: 0.7mm solid #000; overflow-wrap: anywhere; break-after: avoid; break-inside: avoid; }
        h2 .letter { display: inline-block; min-width: 7mm; margin-right: 2.5mm; font-size: 17pt; }
        h2 small { font-size: 10.5pt; font-weight: normal; }
        h3 { font-size: 11pt; margin: 2mm 0 0; break-after: avoid; overflow-wrap: anywhere; }
        p { margin: 0 0 1.5mm; overflow-wrap: anywhere; }
        .facts { font-size: 11.5pt; }
        .facts b { white-space: nowrap; }
        .top { display: flex; flex-wrap: wrap; justify-content: space-between; align-items: flex-start; gap: 2mm 8mm; }
        .top > div { min-width: 0; max-width: 100%; }
        .top > div:first-child { flex: 1 1 100mm; }
        .form { list-style: none; display: flex; flex-wrap: wrap; gap: 1.5mm 5mm; margin: 1mm 0 2mm; padding: 0; }
        .form li { display: flex; align-items: baseline; gap: 1.5mm; max-width: 100%; break-inside: avoid; overflow-wrap: anywhere; min-width: 0; }
        .form li b { font-size: 17pt; line-height: 1.1; }
        .form li span { min-width: 0; overflow-wrap: anywhere; }
        .row { font-size: 0; line-height: 0; break-inside: avoid; margin: 0 0 2.6mm; }
        .row svg { vertical-align: bottom; }
        svg { max-width: 100%; height: auto; overflow: visible; font-family: "Liberation Sans", Arial, Helvetica, sans-serif; }
        svg line, svg path { stroke: #000; fill: none; stroke-linecap: butt; }
        svg .f { fill: #000; stroke: none; }
        svg .h { fill: #fff; stroke: #000; }
        svg .b { font-weight: bold; }
        svg text { white-space: pre; unicode-bidi: isolate; }
        .parts { display: grid; grid-template-columns: repeat(auto-fit, minmax(84mm, 1fr)); gap: 2mm 8mm; }
        .part { break-inside: avoid; min-width: 0; }
        .beatings { display: flex; flex-wrap: wrap; gap: 2mm 7mm; margin-bottom: 2mm; }
        .beatings figure { margin: 0; break-inside: avoid; max-width: 56mm; }
        figcaption { font-size: 10pt; }
        table { border-collapse: collapse; width: 100%; }
        td, th { text-align: left; vertical-align: baseline; padding: 0.8mm 2.5mm 0.8mm 0; border-bottom: 0.15mm solid #000; overflow-wrap: anywhere; }
        th { font-size: 9.5pt; font-weight: normal; }
        tr { break-inside: avoid; }
        td.letter { font-weight: bold; font-size: 14pt; }
        td.rests { font-style: italic; }
        .energy { width: 14mm; }
        .words { font-size: 15pt; line-height: 1.4; margin: 0 0 2mm; break-inside: avoid; }
        .legend { font-size: 9.5pt; }
        @media screen and (max-width: 84mm) { .parts { grid-template-columns: 1fr; } }
        @media print { body { padding: 0; } main { width: 186mm; max-width: none; margin: 0; } svg { max-width: none; } }
        """;

    /// <summary>The sheet for the whole band.</summary>
    public static string ForTheBand(Sheet sheet)
    {
        var page = new StringBuilder();
        page.Append("<div class=\"top\"><div>");
        Head(sheet, "for the band", page);
        Form(sheet, page);
        page.Append("</div><div class=\"beatings\">");
        foreach (var pattern in sheet.Beating)
        {
            var words = $"{SheetMaker.Meter(pattern.Meter)} {pattern.Words}";
            page.Append($"<figure>{BeatingDrawing.Of(pattern, "The beating hand: " + words)}<figcaption><b>{Escape(SheetMaker.Meter(pattern.Meter))}</b> beaten {Escape(pattern.Words)}<br>{Escape(Hand(pattern))}</figcaption></figure>");
        }

        page.Append("</div></div>\n");
        Sections(sheet, page);
        page.Append("<section><h2>Parts</h2><div class=\"parts\">");
        foreach (var part in sheet.Parts)
        {
            page.Append("<div class=\"part\">").Append($"<h3>{Isolated(part.Name)}{Instrument(part)}</h3><p>{Escape(part.Role)}{(part.Level.Length > 0 ? " " + Escape(Capital(part.Level)) + "." : string.Empty)}</p>");
            if (part.Patterns.Count > 0)
            {
                page.Append(Pattern(part.Patterns[0], PatternInColumn, 1, part.Name));
            }

            page.Append("</div>");
        }

        page.Append("</div></section>\n").Append(Legend(sheet.Parts.SelectMany(part => part.Patterns.Take(1))));
        return Document(sheet.Title, "for the band", page);
    }

    /// <summary>The sheet for the player of one part.</summary>
    /// <param name="sheet">The band's sheet.</param>
    /// <param name="part">The index of the part.</param>
    /// <param name="steps">What the part does.</param>
    public static string ForThePlayer(Sheet sheet, int part, IReadOnlyList<PlayerStep> steps)
    {
        var own = sheet.Parts[part];
        var page = new StringBuilder();
        Head(sheet, own.Name, page);
        Form(sheet, page);
        page.Append($"<section><h2>{Isolated(own.Name)}{Instrument(own)}</h2><p class=\"facts\">{Escape(own.Role)}{(own.Level.Length > 0 ? " " + Escape(Capital(own.Level)) + "." : string.Empty)}</p>");
        foreach (var pattern in own.Patterns)
        {
            page.Append("<div class=\"part\">")
                .Append($"<p class=\"legend\">A bar of {Escape(SheetMaker.Meter(pattern.Meter))}, such as bar {pattern.Bar.ToString(CultureInfo.InvariantCulture)}:</p>")
                .Append(Pattern(pattern, BarDrawing.PageWidth, PlayersZoom, own.Name)).Append("</div>");
        }

        page.Append(Legend(own.Patterns)).Append("</section>\n");
        page.Append("<section><h2>Section by section</h2><table><thead><tr><th></th><th>section</th><th>from bar</th><th>you</th><th>energy</th><th>at the end</th></tr></thead><tbody>");
        foreach (var step in steps)
        {
            var playing = step.From == step.To ? SheetPlaying(step.From) : $"{SheetPlaying(step.From)} to {SheetPlaying(step.To)}";
            page.Append($"<tr><td class=\"letter\">{Escape(step.Letter)}</td><td>{Isolated(step.Name)}, {playing}</td><td>{step.FirstBar.ToString(CultureInfo.InvariantCulture)}</td>")
                .Append($"<td{(step.Rests ? " class=\"rests\"" : string.Empty)}>{Isolated(step.Task)}</td><td class=\"energy\">{Energy(step.Energy)}</td><td>{Escape(step.AtEnd)}</td></tr>");
        }

        page.Append("</tbody></table></section>\n");
        Sections(sheet, page);
        return Document(sheet.Title, own.Name, page);
    }

    /// <summary>The sheet for the singer.</summary>
    /// <param name="sheet">The band's sheet.</param>
    /// <param name="singer">The words.</param>
    public static string ForTheSinger(Sheet sheet, SingerSheet singer)
    {
        var page = new StringBuilder();
        Head(sheet, "for the singer", page);
        Form(sheet, page);
        page.Append("<p class=\"legend\">").Append(singer.HasWords
            ? "Bold syllables are stressed. Under the words: an arch for each group, a dot for each unit. A comma over the words: breathe. Over them: the first notes of the phrase; "
                + "G or F is the line of that note. An arrow under a syllable: it comes late, from its place to where it stands."
            : "This chart has no words. Its bars are here to be counted.");
        page.Append(singer.Late.Length > 0 ? " " + Escape(singer.Late) : string.Empty).Append("</p>\n");
        foreach (var block in singer.Blocks)
        {
            page.Append("<section>");
            Heading(block.Letter, block.Name, block.Facts, page);
            if (block.Lines.Count == 0)
            {
                page.Append($"<p>{Bars(block)} without words{(singer.HasWords ? " for the singer" : string.Empty)}.</p>");
                if (block.SilentBars.Count <= 4 && singer.HasWords)
                {
                    BarDrawing.Write(block.SilentBars, page, ends: true);
                }
            }
            else if (block.IsRepeated)
            {
                page.Append("<p class=\"words\">").AppendJoin("<br>", block.Lines.Select(line => line.Sentence).Where(line => line.Length > 0).Select(Isolated)).Append("</p>");
            }
            else
            {
                foreach (var line in block.Lines)
                {
                    SingerDrawing.Write(line, page);
                }
            }

            page.Append("</section>\n");
        }

        return Document(sheet.Title, "for the singer", page);
    }

    private static string Bars(SungBlock block) => Music.Wording.Words.Count(block.BarCount, "bar");

    private static string SheetPlaying(int number) => "playing " + number.ToString(CultureInfo.InvariantCulture);

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];

    private static string Hand(BeatingPattern pattern) => string.Join(", ", pattern.Beats.Select(beat =>
        $"{beat.Way.ToString().ToLowerInvariant()} {beat.Units.ToString(CultureInfo.InvariantCulture)}"));

    private static string Instrument(SheetPart part) =>
        string.Equals(part.Name, part.Instrument, StringComparison.OrdinalIgnoreCase) ? string.Empty : $" <small>{Isolated(part.Instrument)}</small>";

    private static string Pattern(PartPattern pattern, double width, double zoom, string name) => PatternDrawing.Of(
        pattern, width, zoom, $"A bar of {name} in {SheetMaker.Meter(pattern.Meter)}: {Music.Wording.Words.Count(pattern.Notes.Select(note => note.Onset).Distinct().Count(), "onset")}");

    // The signs that the patterns use.
    private static string Legend(IEnumerable<PartPattern> patterns)
    {
        var notes = patterns.SelectMany(pattern => pattern.Notes).ToList();
        var words = new List<string>();
        if (notes.Exists(note => note.Sign is PatternSign.Down or PatternSign.Up or PatternSign.DownDamped or PatternSign.UpDamped))
        {
            words.Add("Arrows: strokes down and up, filled when they ring, hollow when they are damped.");
        }

        if (notes.Exists(note => note.Sign == PatternSign.Dot && note.Label.Length > 0))
        {
            words.Add("Dots: short notes, with the hand over them (l left, r right, d down, u up, t thumb, i index, m middle).");
        }

        if (notes.Exists(note => note.Sign == PatternSign.Held && note.Label.Length > 0))
        {
            words.Add("Bars: held notes, with the degree of the chord over the lowest (R root, 3 third, 5 fifth).");
        }

        if (notes.Exists(note => note.Sign == PatternSign.Click))
        {
            words.Add("Crosses: clicks.");
        }

        return words.Count == 0 ? string.Empty : $"<p class=\"legend\">{Escape(string.Join(' ', words))}</p>\n";
    }

    private static string Energy(int energy)
    {
        var svg = new SvgDrawing(12, 3);
        for (var i = 0; i < 5; i++)
        {
            svg.Bar((i * 2.4) + 0.2, 0.4, 1.8, 2.2, i < energy);
        }

        return svg.Element(said: $"energy {energy.ToString(CultureInfo.InvariantCulture)} of 5");
    }

    private static void Head(Sheet sheet, string whose, StringBuilder page)
    {
        page.Append($"<header><h1>{Isolated(sheet.Title)}</h1><p class=\"facts\">{Isolated(whose)} · {Escape(sheet.Key.ToString())}");
        foreach (var tempo in sheet.Tempi)
        {
            page.Append($" · <b>{Escape(tempo)}</b>");
        }

        page.Append($" · felt {Escape(sheet.Felt)}</p></header>\n");
    }

    private static void Form(Sheet sheet, StringBuilder page)
    {
        page.Append("<ol class=\"form\">");
        foreach (var step in sheet.Form)
        {
            page.Append($"<li>{(step.IsTag ? "<span>then</span>" : string.Empty)}<b>{Escape(step.Letter)}</b><span>{Isolated(step.Name)}")
                .Append(step.Times > 1 ? $" {step.Times.ToString(CultureInfo.InvariantCulture)}×" : string.Empty)
                .Append(step.Endings.Length > 0 ? ", " + Escape(step.Endings) : string.Empty).Append("</span></li>");
        }

        page.Append("</ol><p>");
        page.Append(sheet.Times > 1 ? $"All {sheet.Times.ToString(CultureInfo.InvariantCulture)} times{(sheet.Form.Any(step => step.IsTag) ? ", the tag once after the last time" : string.Empty)}. " : string.Empty);
        page.Append(sheet.Ending.Length > 0 ? $"At the end: {Escape(sheet.Ending)}." : string.Empty).Append("</p>\n");
    }

    private static void Heading(string letter, string name, IReadOnlyList<string> facts, StringBuilder page) => page.Append(
        $"<h2><span class=\"letter\">{Escape(letter)}</span>{(string.Equals(letter, name, StringComparison.Ordinal) ? string.Empty : Isolated(name) + " ")}<small>{Isolated(string.Join(" · ", facts))}</small></h2>");

    private static void Sections(Sheet sheet, StringBuilder page)
    {
        foreach (var section in sheet.Sections)
        {
            page.Append("<section>");
            Heading(section.Letter, section.Name, section.Facts, page);
            BarDrawing.Write(section.Bars, page, section.Endings.Count == 0);
            foreach (var ending in section.Endings)
            {
                page.Append($"<h3>ending {ending.Number.ToString(CultureInfo.InvariantCulture)}</h3>");
                BarDrawing.Write(ending.Bars, page, ends: true);
            }

            page.Append("</section>\n");
        }
    }

    // A text inside a style sheet: all but letters and digits by their numbers.
    private static string Quoted(string text)
    {
        var quoted = new StringBuilder();
        var runes = text.EnumerateRunes().ToList();
        foreach (var rune in runes.Take(LongestFooter))
        {
            quoted.Append(Rune.IsLetterOrDigit(rune) ? rune.ToString() : FormattableString.Invariant($"\\{(Rune.IsControl(rune) ? 0x20 : rune.Value):x} "));
        }

        return quoted.Append(runes.Count > LongestFooter ? "…" : string.Empty).ToString();
    }

    private static string Document(string title, string whose, StringBuilder body) =>
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        + $"<title>{Escape(title)}, {Escape(whose)}</title>\n<style>\n{Style}\n@page {{ @bottom-left {{ content: \"{Quoted(title + ", " + whose)}\"; font: 9pt sans-serif; }} }}\n</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n";
}
