using System.Globalization;
using System.Xml.Linq;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Exports 5,000 bars of a chart as a score and as a MIDI file, each in a process of its own, and compares the score with the framework's
/// document tree reading and writing the same file. The goals are 2 s and 300 MB.
/// </summary>
internal static class ExportBenchmark
{
    public const string ChildCommand = "export-child";
    private const int Bars = 5_000;
    private const int Runs = 5;
    private const double MostSeconds = 2;
    private const double MostMegabytes = 300;

    public static int Run(string program, string chart)
    {
        var folder = Directory.CreateTempSubdirectory("groovelab-export-").FullName;
        try
        {
            string[] endings = [".musicxml", ".mid"];
            var ours = endings.ToDictionary(ending => ending, _ => new List<ChildProcess>());
            var peer = new List<ChildProcess>();
            string FileOf(string ending) => Path.Combine(folder, "song" + ending);
            for (var run = 0; run < Runs; run++)
            {
                foreach (var ending in endings)
                {
                    ours[ending].Add(ChildProcess.Run(
                        program, "export", chart, "--bars", Bars.ToString(CultureInfo.InvariantCulture), "-o", FileOf(ending), "--force"));
                }

                peer.Add(ChildProcess.Run(Environment.ProcessPath!, ChildCommand, FileOf(endings[0])));
            }

            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{Bars} bars of {Path.GetFileName(chart)}, {new FileInfo(FileOf(endings[0])).Length / 1e6:0.0} MB of MusicXML; whole processes, median of {Runs} runs"));
            foreach (var ending in endings)
            {
                Print("export to " + ending, ours[ending]);
            }

            Print("document tree: load and save the score", peer);
            var wall = Median(ours[endings[0]], one => one.WallSeconds);
            var ratio = wall / Median(peer, one => one.WallSeconds);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio of the score's export to the document tree: {ratio:0.00}"));
            var met = wall <= MostSeconds && Median(ours[endings[0]], one => one.PeakMegabytes) <= MostMegabytes;
            Console.WriteLine(met ? "the goals are met" : $"missed: at most {MostSeconds} s and {MostMegabytes} MB");
            return met ? 0 : 1;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>The peer: reads a score into a document tree and writes it again.</summary>
    public static int Child(string file)
    {
        XDocument.Load(file).Save(file + ".again", SaveOptions.DisableFormatting);
        return 0;
    }

    private static void Print(string what, List<ChildProcess> runs) => Console.WriteLine(string.Create(
        CultureInfo.InvariantCulture,
        $"{what,-42}{Median(runs, one => one.WallSeconds),6:0.00} s{Median(runs, one => one.CpuSeconds),8:0.00} s CPU{Median(runs, one => one.PeakMegabytes),7:0} MB"));

    private static double Median(List<ChildProcess> runs, Func<ChildProcess, double> value) => runs.Select(value).Order().ElementAt(runs.Count / 2);
}
