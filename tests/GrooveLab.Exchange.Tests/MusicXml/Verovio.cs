using System.Diagnostics;
using System.Globalization;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>What npm verovio makes of a score.</summary>
/// <param name="Pages">Pages drawn.</param>
/// <param name="Remarks">Its warnings and errors while it read and drew the score.</param>
/// <param name="Notes">The place of each note that is struck, in quarter notes from the start, and its MIDI key as
/// written; -1 for an unpitched note. Without grace notes.</param>
/// <param name="Bars">The place of each measure, in quarter notes.</param>
internal sealed record Engraved(int Pages, IReadOnlyList<string> Remarks, IReadOnlyList<(Rational Quarter, int Key)> Notes, IReadOnlyList<Rational> Bars);

/// <summary>npm verovio 6.3.0, run by node: one process for many scores.</summary>
internal static class Verovio
{
    private const string Script =
        """
        const said = [];
        console.error = console.warn = (...words) => said.push(words.join(' ').trim().replace(/\s+/g, ' '));
        const modules = process.env.GROOVELAB_NODE_MODULES + '/verovio/dist/';
        const { default: create } = await import('file://' + modules + 'verovio-module.mjs');
        const { VerovioToolkit } = await import('file://' + modules + 'verovio.mjs');
        const { readFileSync, writeSync } = await import('node:fs');
        const toolkit = new VerovioToolkit(await create());
        toolkit.setOptions({ breaks: 'auto', footer: 'none', pageWidth: 2970, pageHeight: 2100, scale: 30 });
        for (const path of readFileSync(0, 'utf8').trim().split('\n')) {
          const out = ['score'];
          if (!toolkit.loadData(readFileSync(path, 'utf8'))) out.push('remark not loaded');
          const pages = toolkit.getPageCount();
          for (let page = 1; page <= pages; page++) if (!toolkit.renderToSVG(page).includes('<svg')) out.push('remark no page ' + page);
          out.push('pages ' + pages);
          // A note is struck unless a tie leads to it. Asking the toolkit for each note's key takes it far longer than reading its own file.
          const mei = toolkit.getMEI(), keys = new Map();
          for (const [, tag, , inside] of mei.matchAll(/<note ([^>]*?)(\/>|>([^]*?)<\/note>)/g)) {
            const value = (name, text = tag) => new RegExp('(?:^| )' + name + '="([^"]*)"').exec(text)?.[1];
            const sign = value('accid.ges') ?? value('accid.ges', inside) ?? value('accid', inside) ?? '';
            const step = { c: 0, d: 2, e: 4, f: 5, g: 7, a: 9, b: 11 }[value('pname')];
            const alter = { s: 1, f: -1, ss: 2, x: 2, ff: -2 }[sign] ?? 0;
            if (!value('grace')) keys.set(value('xml:id'), step === undefined ? -1 : 12 * (Number(value('oct')) + 1) + step + alter);
          }
          for (const [tag] of mei.matchAll(/<tie [^>]*>/g)) keys.delete(/endid="#([^"]*)"/.exec(tag)?.[1]);
          for (const entry of toolkit.renderToTimemap({ includeMeasures: true, includeRests: false, useFractions: true })) {
            if (entry.measureOn) out.push('bar ' + entry.qfrac.join('/'));
            for (const id of entry.on ?? []) if (keys.has(id)) out.push('note ' + entry.qfrac.join('/') + ' ' + keys.get(id));
          }
          for (const words of said.splice(0)) if (words) out.push('remark ' + words);
          const bytes = Buffer.from(out.join('\n') + '\n');
          for (let at = 0; at < bytes.length;) { try { at += writeSync(1, bytes, at); } catch (full) { if (full.code !== 'EAGAIN') throw full; } }
        }
        """;

    /// <summary>Draws scores, in their order.</summary>
    public static async Task<IReadOnlyList<Engraved>> Engrave(IEnumerable<byte[]> scores)
    {
        var node = References.RequireTool("node");
        var modules = Environment.GetEnvironmentVariable("GROOVELAB_NODE_MODULES") ?? "";
        References.Require(
            File.Exists(Path.Combine(modules, "verovio", "package.json")), "GROOVELAB_NODE_MODULES does not name a node_modules folder with verovio in it");
        var cancelled = TestContext.Current.CancellationToken;
        var folder = Directory.CreateTempSubdirectory("groovelab-verovio-").FullName;
        try
        {
            var paths = new List<string>();
            foreach (var (index, score) in scores.Index())
            {
                paths.Add(Path.Combine(folder, $"{index}.musicxml"));
                await File.WriteAllBytesAsync(paths[^1], score, cancelled);
            }

            var start = new ProcessStartInfo(node, ["--input-type=module", "-e", Script])
            {
                RedirectStandardInput = true,
                RedirectStandardOutput = true,
                UseShellExecute = false,
            };
            using var process = Process.Start(start)!;
            var output = process.StandardOutput.ReadToEndAsync(cancelled);
            await process.StandardInput.WriteAsync(string.Join('\n', paths));
            process.StandardInput.Close();
            var made = Parse((await output).Split('\n', StringSplitOptions.RemoveEmptyEntries));
            await process.WaitForExitAsync(cancelled);
            Assert.Equal(0, process.ExitCode);
            Assert.Equal(paths.Count, made.Count);
            return made;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static List<Engraved> Parse(string[] lines)
    {
        var made = new List<Engraved>();
        var (pages, remarks, notes, bars) = (0, new List<string>(), new List<(Rational, int)>(), new List<Rational>());
        foreach (var line in lines)
        {
            var words = line.Split(' ', 2);
            switch (words[0])
            {
                case "score":
                    (pages, remarks, notes, bars) = (0, [], [], []);
                    break;
                case "pages":
                    pages = int.Parse(words[1], CultureInfo.InvariantCulture);
                    made.Add(new Engraved(pages, remarks, notes, bars));
                    break;
                case "bar":
                    bars.Add(Number(words[1]));
                    break;
                case "note":
                    var parts = words[1].Split(' ');
                    notes.Add((Number(parts[0]), int.Parse(parts[1], CultureInfo.InvariantCulture)));
                    break;
                default:
                    remarks.Add(words[^1]);
                    break;
            }
        }

        return made;
    }

    private static Rational Number(string text)
    {
        Assert.True(Rational.TryParse(text, out var number), text);
        return number;
    }
}
