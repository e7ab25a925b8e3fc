using System.Diagnostics;
using System.Globalization;
using System.Text;
using System.Text.Json;
using GrooveLab.Testing;

namespace GrooveLab.Tests.Sheets;

/// <summary>A sheet to be looked at in a browser.</summary>
/// <param name="Name">Its name in messages.</param>
/// <param name="Html">The whole page.</param>
internal sealed record BrowserSheet(string Name, string Html)
{
    /// <summary>What stands between the tags of the page's main element, these included.</summary>
    public string Main => Html[Html.IndexOf("<main>", StringComparison.Ordinal)..(Html.LastIndexOf("</main>", StringComparison.Ordinal) + "</main>".Length)];

    /// <summary>The style sheet of the page.</summary>
    public string Style => Html[(Html.IndexOf("<style>", StringComparison.Ordinal) + "<style>".Length)..Html.IndexOf("</style>", StringComparison.Ordinal)];
}

/// <summary>Pages in headless Chromium: many sheets in one run.</summary>
internal sealed class BrowserPages : IDisposable
{
    private static readonly TimeSpan Hung = TimeSpan.FromMinutes(3);

    private readonly string _folder = Directory.CreateTempSubdirectory("groovelab-pages-").FullName;
    private readonly string _browser = References.RequireTool("chromium");

    /// <summary>What is wrong with the boxes of the sheets, a line for each fault: texts that overlap, boxes outside the page's width, rows higher than a page, capitals
    /// of chords lower than 7 mm. On screens as wide as paper and as narrow as a phone, in three fonts.</summary>
    public IReadOnlyList<string> Faults(IReadOnlyList<BrowserSheet> sheets)
    {
        var page = new StringBuilder("<!doctype html><html><head><meta charset=\"utf-8\"><style>").Append(sheets[0].Style).Append("</style></head><body>");
        foreach (var sheet in sheets)
        {
            page.Append(CultureInfo.InvariantCulture, $"<div class=\"one\" data-name=\"{sheet.Name}\">{sheet.Main}</div>");
        }

        page.Append("<script>").Append(Measuring).Append("</script></body></html>");
        var dumped = Run(File("boxes.html", page.ToString()), "--window-size=1200,1600", "--dump-dom");
        var (from, end) = (dumped.IndexOf("[[[", StringComparison.Ordinal), dumped.LastIndexOf("]]]", StringComparison.Ordinal));
        return from < 0 || end < from
            ? ["the page was not measured: " + dumped[..Math.Min(500, dumped.Length)]]
            : JsonSerializer.Deserialize<string[]>(System.Net.WebUtility.HtmlDecode(dumped[(from + 3)..end]))!;
    }

    /// <summary>Prints sheets, each from a new page on, and says of each printed page its size in points and the boxes of its words.</summary>
    /// <param name="sheets">The sheets.</param>
    /// <param name="paper">"A4" or "Letter".</param>
    public IReadOnlyList<PrintedPage> Print(IReadOnlyList<BrowserSheet> sheets, string paper)
    {
        // The printer's paper: a browser without a window takes it from the style sheet.
        var page = new StringBuilder("<!doctype html><html><head><meta charset=\"utf-8\"><style>")
            .Append(sheets[0].Style.Replace("size: auto", "size: " + paper, StringComparison.Ordinal)).Append(".one + .one { break-before: page; }</style></head><body>");
        foreach (var sheet in sheets)
        {
            page.Append(CultureInfo.InvariantCulture, $"<div class=\"one\">{sheet.Main}</div>");
        }

        page.Append("</body></html>");
        var printed = Path.Combine(_folder, paper + ".pdf");
        Run(File(paper + ".html", page.ToString()), "--no-pdf-header-footer", "--print-to-pdf=" + printed);
        var boxes = Path.Combine(_folder, paper + ".xml");
        Start(References.RequireTool("pdftotext"), "-bbox", printed, boxes);
        return PrintedPage.Read(System.IO.File.ReadAllText(boxes));
    }

    /// <inheritdoc/>
    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private string File(string name, string text)
    {
        var path = Path.Combine(_folder, name);
        System.IO.File.WriteAllText(path, text);
        return path;
    }

    private string Run(string page, params string[] arguments) =>
        Start(_browser, ["--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir=" + Path.Combine(_folder, "profile"), "--virtual-time-budget=60000", .. arguments, new Uri(page).AbsoluteUri]);

    private static string Start(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(program) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        foreach (var argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        using var process = Process.Start(start)!;
        // Messages of the browser about its surroundings are read, so that it never waits, and not kept.
        process.ErrorDataReceived += (_, _) => { };
        process.BeginErrorReadLine();
        var output = process.StandardOutput.ReadToEndAsync();
        if (!process.WaitForExit(Hung))
        {
            process.Kill(entireProcessTree: true);
            throw new TimeoutException($"{program} did not end.");
        }

        return output.Result;
    }

    // Boxes of SVG texts reach from the ascent to the descent of the font; a fifth of that is empty over the capitals, which is no fault.
    private const string Measuring = """
        const faults = [], mm = 96 / 25.4, fonts = ['"Liberation Sans", sans-serif', '"DejaVu Sans", sans-serif', '"Liberation Serif", serif'];
        const say = text => { if (faults.length < 60) faults.push(text); };
        const canvas = document.createElement('canvas').getContext('2d');
        function boxes(one) {
          const found = [];
          for (const text of one.querySelectorAll('svg text')) {
            const b = text.getBoundingClientRect();
            found.push({ l: b.left, r: b.right, t: b.top + b.height * 0.2, b: b.bottom - b.height * 0.08, s: text.textContent });
          }
          const walker = document.createTreeWalker(one, NodeFilter.SHOW_TEXT, node => node.parentElement.closest('svg') ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT);
          for (let node = walker.nextNode(); node; node = walker.nextNode()) {
            if (!node.textContent.trim()) continue;
            const range = document.createRange();
            range.selectNodeContents(node);
            for (const b of range.getClientRects())
              if (b.width > 0) found.push({ l: b.left, r: b.right, t: b.top + b.height * 0.2, b: b.bottom - b.height * 0.1, s: node.textContent, h: true });
          }
          return found;
        }
        function check(where, wide) {
          for (const one of document.querySelectorAll('.one')) {
            const name = where + ' ' + one.dataset.name, main = one.querySelector('main').getBoundingClientRect();
            const found = boxes(one).sort((a, b) => a.t - b.t);
            for (let i = 0; i < found.length; i++) {
              const a = found[i];
              if (a.l < main.left - 1 || a.r > main.left + wide + 1) say(name + ': "' + a.s.slice(0, 30) + '" leaves the page, ' + ((a.r - main.left) / mm).toFixed(1) + ' mm');
              for (let j = i + 1; j < found.length && found[j].t < a.b; j++) {
                const b = found[j];
                if (a.l < b.r - 0.6 && b.l < a.r - 0.6 && !(a.h && b.h && a.s === b.s)) say(name + ': "' + a.s.slice(0, 30) + '" overlaps "' + b.s.slice(0, 30) + '"');
              }
            }
            for (const svg of one.querySelectorAll('svg')) {
              const b = svg.getBoundingClientRect();
              if (b.right > main.left + wide + 1) say(name + ': a drawing is ' + (b.right - main.left) / mm + ' mm wide');
            }
            for (const row of one.querySelectorAll('.row, .part, figure, .words'))
              if (row.getBoundingClientRect().height > 240 * mm) say(name + ': something unbroken is higher than a page');
          }
        }
        for (const font of fonts) {
          const style = document.createElement('style');
          style.textContent = 'body, svg { font-family: ' + font + ' !important }';
          document.head.append(style);
          check(font, 186 * mm);
          const seen = new Set();
          for (const cap of document.querySelectorAll('.cap')) {
            if (cap.textContent.length > 1 || seen.has(cap.textContent)) continue;
            seen.add(cap.textContent);
            canvas.font = 'bold 100px ' + font;
            const high = canvas.measureText(cap.textContent).actualBoundingBoxAscent / 100 * cap.getAttribute('font-size') * cap.getCTM().d / mm;
            if (!(high >= 7)) say(font + ': the capital ' + cap.textContent + ' is ' + high + ' mm high');
          }
          style.remove();
        }
        document.body.style.cssText = 'width: 375px; padding: 8px';
        for (const one of document.querySelectorAll('.one')) one.style.width = '359px';
        check('phone', 359);
        document.body.textContent = '[[[' + JSON.stringify(faults) + ']]]';
        """;
}
