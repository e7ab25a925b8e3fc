using System.Diagnostics;
using System.Globalization;
using System.Text;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Measures the screen from outside, through a terminal of 100x30 cells: the time from the start of the process to the first picture and to
/// the first one with the chart's title, which means that the band plays; then pictures, CPU time and bytes a second. Several programs take
/// turns. What can only be measured from inside comes from the same screen in a process of this benchmark (<see cref="ScreenFigures"/>).
/// </summary>
internal static class ScreenBenchmark
{
    private const int Columns = 100;
    private const int Rows = 30;

    // The figures leave out these first seconds.
    private const double SettleSeconds = ScreenFigures.SettleSeconds;

    private const byte ControlC = 3;

    // The bytes of a picture arrive without a longer gap.
    private const double BetweenPicturesSeconds = 0.003;

    // Between pictures the library resets the cursor, which takes this many bytes.
    private const int CursorBytes = 16;

    // Shown on the first picture while the chart is being read.
    private const string FirstWords = "getting ready";

    public static int Run(string[] arguments)
    {
        var (starts, seconds) = (7, 10.0);
        var names = new List<string>();
        for (var i = 0; i < arguments.Length; i++)
        {
            switch (arguments[i])
            {
                case "--starts":
                    starts = int.Parse(arguments[++i], CultureInfo.InvariantCulture);
                    break;
                case "--seconds":
                    seconds = double.Parse(arguments[++i], CultureInfo.InvariantCulture);
                    break;
                default:
                    names.Add(arguments[i]);
                    break;
            }
        }

        if (names.Count < 2)
        {
            Console.Error.WriteLine("usage: screen CHART PROGRAM... [--starts N] [--seconds S]");
            return 2;
        }

        var chart = names[0];
        // One word of the title, because the screen does not rewrite spaces. The comparison is byte by byte.
        var words = File.ReadLines(chart).First(line => line.StartsWith("title", StringComparison.Ordinal)).Split('"')[1].Split(' ');
        var title = Encoding.Latin1.GetString(Encoding.UTF8.GetBytes(words.MaxBy(word => word.Length)!));
        var programs = names.Skip(1).ToList();
        var home = Directory.CreateTempSubdirectory("groovelab-screen-").FullName;
        try
        {
            // The first start makes the built-in bank, which the start benchmark measures.
            Start(Command(programs[0], chart), title, home);
            var samples = programs.Select(_ => new List<Sample>()).ToList();
            for (var run = 0; run < starts; run++)
            {
                for (var i = 0; i < programs.Count; i++)
                {
                    samples[i].Add(Start(Command(programs[i], chart), title, home));
                }
            }

            for (var i = 0; starts > 0 && i < programs.Count; i++)
            {
                if (i == 0)
                {
                    Console.WriteLine(FormattableString.Invariant(
                        $"from the start of the process, {Columns}x{Rows}, median of {starts} starts (least, most); load average {Load()}"));
                }

                Console.WriteLine(programs[i]);
                Print("first byte to the terminal", samples[i], sample => sample.Byte, "ms");
                Print("first picture", samples[i], sample => sample.Picture, "ms");
                Print("CPU time until then, own", samples[i], sample => sample.Own, "ms");
                Print("CPU time until then, kernel", samples[i], sample => sample.Kernel, "ms");
                Print("chart's title: the band plays", samples[i], sample => sample.Whole, "ms");
            }

            if (seconds > 0)
            {
                foreach (var program in programs)
                {
                    Steady(program, chart, home, seconds);
                }

                Console.WriteLine("the same screen inside the benchmark's own process: " + Inside(chart, home, seconds));
            }

            return 0;
        }
        finally
        {
            Directory.Delete(home, recursive: true);
        }
    }

    private static List<string> Command(string program, string chart) =>
        [.. program.EndsWith(".dll", StringComparison.Ordinal) ? ["dotnet", program] : new[] { program }, "play", chart];

    private static Dictionary<string, string> Environment(string home) => new()
    {
        ["TERM"] = "xterm-256color",
        ["XDG_DATA_HOME"] = home,
        ["XDG_CONFIG_HOME"] = home,
        ["XDG_CACHE_HOME"] = Path.Combine(home, "cache"),
    };

    private static Sample Start(List<string> command, string title, string home)
    {
        using var terminal = PseudoTerminal.Start(command, Columns, Rows, Environment(home));
        var buffer = new byte[65536];
        var text = new StringBuilder();
        double first = 0, picture = 0, whole = 0;
        (double Own, double Kernel) processor = default;
        while (Next(terminal, buffer) is { Length: > 0 } read)
        {
            var now = Stopwatch.GetElapsedTime(terminal.Began).TotalMilliseconds;
            first = first == 0 ? now : first;
            var seen = whole == 0 ? text.Append(read).ToString() : string.Empty;
            if (whole == 0 && seen.Contains(title, StringComparison.Ordinal))
            {
                whole = now;
                terminal.Type([ControlC]);
            }

            if (picture == 0 && (whole > 0 || seen.Contains(FirstWords, StringComparison.Ordinal)))
            {
                picture = now;
                processor = terminal.Processor();
            }
        }

        terminal.Process.WaitForExit();
        return whole > 0 && terminal.Process.ExitCode == 0
            ? new Sample(first, picture, whole, processor.Own * 1000, processor.Kernel * 1000)
            : throw new InvalidOperationException(
                $"{string.Join(' ', command)} ended with exit code {terminal.Process.ExitCode}: {terminal.Errors.Result}");
    }

    private static void Steady(string program, string chart, string home, double seconds)
    {
        using var terminal = PseudoTerminal.Start(Command(program, chart), Columns, Rows, Environment(home));
        var buffer = new byte[65536];
        long bytes = 0, bytesBefore = 0, written = 0;
        double from = 0, until = 0, own = 0, before = 0, thread = 0, threadBefore = 0, last = 0, began = 0, picture = 0;
        var left = false;
        var steps = new List<double>();
        while (Next(terminal, buffer) is { Length: > 0 } read)
        {
            var now = Stopwatch.GetElapsedTime(terminal.Began).TotalSeconds;
            if (now - last > BetweenPicturesSeconds)
            {
                if (written > CursorBytes)
                {
                    if (from > 0 && picture > 0 && began < from + seconds - 1)
                    {
                        steps.Add(began - picture);
                    }

                    picture = began;
                }

                (began, written) = (now, 0);
            }

            (last, written) = (now, written + read.Length);
            if (from == 0 && now > SettleSeconds)
            {
                (from, bytesBefore, before, threadBefore) = (now, bytes, Sum(terminal.Processor()), Sum(terminal.Processor(firstThread: true)));
            }
            else if (from > 0 && now < from + seconds - 1)
            {
                (until, own, thread) = (now, Sum(terminal.Processor()), Sum(terminal.Processor(firstThread: true)));
            }

            bytes += from == 0 || now < from + seconds - 1 ? read.Length : 0;
            if (!left && now > SettleSeconds + seconds)
            {
                left = true;
                terminal.Type([ControlC]);
            }
        }

        terminal.Process.WaitForExit();
        var span = until - from;
        steps.Sort();
        Console.WriteLine(program);
        Console.WriteLine(FormattableString.Invariant(
            $"  in {span:0.0} s: {steps.Count / span:0.0} pictures a second, {(bytes - bytesBefore) / span / 1000:0.0} kB/s to the terminal, ")
            + FormattableString.Invariant($"from one picture to the next {steps[steps.Count / 2] * 1000:0} ms, 99 of 100 within {steps[steps.Count * 99 / 100] * 1000:0} ms;"));
        Console.WriteLine(FormattableString.Invariant(
            $"  {(own - before) / span * 100:0.0} % of a core, the screen's thread {(thread - threadBefore) / span * 100:0.0} %; load average {Load()}"));
    }

    private static double Sum((double Own, double Kernel) processor) => processor.Own + processor.Kernel;

    private static string Next(PseudoTerminal terminal, byte[] buffer)
    {
        while (true)
        {
            var read = terminal.Read(buffer);
            if (read.Length > 0)
            {
                return Encoding.Latin1.GetString(read);
            }

            // No program on the terminal: not yet, or no longer.
            if (terminal.Process.HasExited)
            {
                return string.Empty;
            }

            Thread.Sleep(1);
        }
    }

    private static string Inside(string chart, string home, double seconds)
    {
        List<string> command = [System.Environment.ProcessPath!, ScreenFigures.Command, chart, seconds.ToString(CultureInfo.InvariantCulture)];
        using var terminal = PseudoTerminal.Start(command, Columns, Rows, Environment(home));
        var buffer = new byte[65536];
        while (Next(terminal, buffer).Length > 0)
        {
            // The output must be read, or the terminal fills up.
        }

        terminal.Process.WaitForExit();
        return terminal.Errors.Result.Trim();
    }

    private static void Print(string what, List<Sample> samples, Func<Sample, double> value, string unit)
    {
        var sorted = samples.Select(value).Order().ToList();
        Console.WriteLine(FormattableString.Invariant($"  {what,-34}{sorted[sorted.Count / 2],7:0} {unit} ({sorted[0]:0}-{sorted[^1]:0})"));
    }

    private static string Load() => File.Exists("/proc/loadavg") ? File.ReadAllText("/proc/loadavg").Split(' ')[0] : "unknown";

    private readonly record struct Sample(double Byte, double Picture, double Whole, double Own, double Kernel);
}
