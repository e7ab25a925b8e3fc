using System.Diagnostics;
using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Imports a made score of 5,000 bars (a voice with two verses and chord symbols, and a piano of two staves): reads it, makes its chart and
/// writes the chart's text. Compares the time with verovio loading the same file; each takes turns in a process of its own. The first import of a
/// process must take at most two seconds and 300 MB, and four times the bars at most five times as long.
/// </summary>
internal static class ScoreBenchmark
{
    public const string ChildCommand = "score-child";
    private const int Runs = 3;
    private const int ImportsOfProcess = 5;
    private const int Bars = 5_000;
    private const int ShorterBy = 4;

    // The goals for the first import of a process, and the most that four times the bars may take.
    private const double MostMilliseconds = 2_000;
    private const double MostMegabytes = 300;
    private const double MostGrowth = 5;

    private const string Modules = "GROOVELAB_NODE_MODULES";

    private const string Peer =
        """
        import createVerovioModule from 'MODULES/verovio/dist/verovio-module.mjs';
        import { VerovioToolkit } from 'MODULES/verovio/dist/verovio.mjs';
        import { readFileSync } from 'node:fs';
        const toolkit = new VerovioToolkit(await createVerovioModule());
        toolkit.setOptions({ breaks: 'none' });
        const text = readFileSync(process.argv[2], 'utf8');
        const began = performance.now();
        if (!toolkit.loadData(text)) process.exit(1);
        console.log((performance.now() - began).toFixed(1) + ' ' + (process.memoryUsage().rss / 1e6).toFixed(1));
        """;

    public static int Run()
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-score-").FullName;
        try
        {
            var file = Path.Combine(folder, "long.musicxml");
            File.WriteAllText(file, Score(Bars));
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{Bars} bars, {new FileInfo(file).Length / 1e6:0.0} MB"));
            var script = Path.Combine(folder, "peer.mjs");
            var modules = Environment.GetEnvironmentVariable(Modules);
            if (modules is not null && Directory.Exists(Path.Combine(modules, "verovio")))
            {
                File.WriteAllText(script, Peer.Replace("MODULES", modules, StringComparison.Ordinal));
            }

            var ours = new List<double[]>();
            var peer = new List<double[]>();
            for (var run = 0; run < Runs; run++)
            {
                ours.Add(Figures(Environment.ProcessPath!, [.. Self(), ChildCommand, file]));
                if (File.Exists(script))
                {
                    peer.Add(Figures("node", [script, file]));
                }
            }

            var quarter = Path.Combine(folder, "quarter.musicxml");
            File.WriteAllText(quarter, Score(Bars / ShorterBy));
            var quarters = Enumerable.Range(0, Runs).Select(_ => Figures(Environment.ProcessPath!, [.. Self(), ChildCommand, quarter])).ToList();
            var growth = Median(ours, 1) / Median(quarters, 1);
            Print("first import of the process", ours, 0);
            Print("later imports", ours, 1);
            Print("of which reading", ours, 2);
            Print("later imports of a quarter of the bars", quarters, 1);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{"times a quarter of the bars",-40}{growth,8:0.00}"));
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture, $"{"peak memory of the first import",-40}{Median(ours, 3),8:0} MB, alive after importing {Median(ours, 4):0} MB"));
            if (peer.Count > 0)
            {
                Print("verovio, loadData", peer, 0);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{"verovio, memory of the process",-40}{Median(peer, 1),8:0} MB"));
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio of the first import to verovio: {Median(ours, 0) / Median(peer, 0):0.000}"));
            }
            else
            {
                Console.WriteLine($"verovio is not here: set {Modules} to a folder of node modules with it");
            }

            var missed = new[]
            {
                (Median(ours, 0) > MostMilliseconds, $"the first import takes more than {MostMilliseconds} ms"),
                (Median(ours, 3) > MostMegabytes, $"the first import takes more than {MostMegabytes} MB"),
                (growth > MostGrowth, $"{ShorterBy} times the bars take more than {MostGrowth} times as long"),
            }.Where(one => one.Item1).Select(one => one.Item2).ToList();
            missed.ForEach(Console.Error.WriteLine);
            return missed.Count > 0 ? 1 : 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>
    /// Imports a file in this process and prints the milliseconds of the first and a later import and of a later reading alone, and the
    /// megabytes at most and alive.
    /// </summary>
    public static int Child(string file)
    {
        var bytes = File.ReadAllBytes(file);
        var options = new ScoreOptions { Name = file };
        var imports = new List<double>();
        var readings = new List<double>();
        ImportedScore? imported = null;
        var peak = 0.0;
        for (var run = 0; run < ImportsOfProcess; run++)
        {
            var began = Stopwatch.GetTimestamp();
            imported = ScoreImport.Make(bytes, ScoreFormat.MusicXml, options);
            imports.Add(Stopwatch.GetElapsedTime(began).TotalMilliseconds);
            peak = run == 0 ? Process.GetCurrentProcess().PeakWorkingSet64 / 1e6 : peak;
            if (imported.Text is null)
            {
                Console.Error.WriteLine(imported.Refusal ?? string.Join('\n', imported.Reading.Errors));
                return 1;
            }
        }

        for (var run = 0; run < ImportsOfProcess; run++)
        {
            var began = Stopwatch.GetTimestamp();
            _ = MusicXmlScoreReader.Read(bytes, options);
            readings.Add(Stopwatch.GetElapsedTime(began).TotalMilliseconds);
        }

        var alive = GC.GetTotalMemory(forceFullCollection: true) / 1e6;
        GC.KeepAlive(imported);
        var later = imports.Skip(1).Order().ElementAt((ImportsOfProcess - 1) / 2);
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"{imports[0]:0.0} {later:0.0} {readings.Order().ElementAt(ImportsOfProcess / 2):0.0} {peak:0.0} {alive:0.0}"));
        return 0;
    }

    private static string[] Self() =>
        Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? [typeof(ScoreBenchmark).Assembly.Location] : [];

    private static void Print(string what, List<double[]> figures, int index) =>
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{what,-40}{Median(figures, index),8:0} ms"));

    private static double Median(List<double[]> figures, int index) => figures.Select(one => one[index]).Order().ElementAt(figures.Count / 2);

    private static double[] Figures(string command, string[] arguments)
    {
        var start = new ProcessStartInfo("/usr/bin/env", [command, .. arguments]) { RedirectStandardOutput = true, UseShellExecute = false };
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        var line = output.Split('\n', StringSplitOptions.RemoveEmptyEntries).LastOrDefault();
        return process.ExitCode == 0 && line is not null
            ? [.. line.Split(' ').Select(one => double.Parse(one, CultureInfo.InvariantCulture))]
            : throw new InvalidOperationException($"{command} ended with exit code {process.ExitCode}.");
    }

    private static string Score(int bars)
    {
        var text = new StringBuilder(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Voice</part-name></score-part>"
            + "<score-part id=\"P2\"><part-name>Piano</part-name></score-part></part-list>\n<part id=\"P1\">\n");
        for (var bar = 0; bar < bars; bar++)
        {
            text.Append(CultureInfo.InvariantCulture, $"<measure number=\"{bar + 1}\">\n").Append(Attributes(bar, 1));
            text.Append(CultureInfo.InvariantCulture, $"<harmony><root><root-step>{"CDFG"[bar % 4]}</root-step></root><kind>minor-seventh</kind></harmony>\n");
            for (var note = 0; note < 7; note++)
            {
                text.Append(Note(bar + note, 5, 1, 1, string.Concat(Enumerable.Range(1, 2).Select(verse =>
                    $"<lyric number=\"{verse}\"><syllabic>single</syllabic><text>la{note}</text></lyric>"))));
            }

            text.Append("</measure>\n");
        }

        text.Append("</part>\n<part id=\"P2\">\n");
        for (var bar = 0; bar < bars; bar++)
        {
            text.Append(CultureInfo.InvariantCulture, $"<measure number=\"{bar + 1}\">\n").Append(Attributes(bar, 2));
            for (var staff = 1; staff <= 2; staff++)
            {
                for (var note = 0; note < 7; note++)
                {
                    text.Append(Note(bar + note, 6 - staff, staff, staff, "<notations><articulations><staccato/></articulations></notations>"));
                }

                text.Append(staff == 1 ? "<backup><duration>7</duration></backup>\n" : "");
            }

            text.Append("</measure>\n");
        }

        return text.Append("</part>\n</score-partwise>\n").ToString();
    }

    private static string Attributes(int bar, int staves) => bar > 0
        ? ""
        : $"<attributes><divisions>2</divisions><key><fifths>0</fifths></key><time><beats>7</beats><beat-type>8</beat-type></time><staves>{staves}</staves>"
            + "<clef number=\"1\"><sign>G</sign><line>2</line></clef></attributes>\n";

    private static string Note(int step, int octave, int voice, int staff, string rest) =>
        $"<note default-x=\"12.5\"><pitch><step>{"CDEFGAB"[step % 7]}</step><octave>{octave}</octave></pitch><duration>1</duration><voice>{voice}</voice>"
        + $"<type>eighth</type><stem>up</stem><staff>{staff}</staff>{rest}</note>\n";
}
