using System.Diagnostics;
using System.Globalization;
using GrooveLab.Audio.Playback;
using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Screen;

namespace GrooveLab.Benchmarks;

/// <summary>
/// Runs the program's screen in a process of the benchmark and measures it from inside: pictures, processor time, garbage and problems.
/// </summary>
internal sealed class ScreenFigures(double seconds) : IScreenWatcher
{
    /// <summary>The argument with which the benchmark starts itself for this.</summary>
    public const string Command = "screen-inside";

    /// <summary>Seconds at the start that the figures leave out.</summary>
    public const double SettleSeconds = 3;

    private readonly long _start = Stopwatch.GetTimestamp();
    private double _from;
    private double _span;
    private TimeSpan _processor;
    private long _garbage;
    private long _pictures;
    private Health _health = Health.Good;

    /// <summary>Shows a chart for some seconds, and writes a line of figures to standard error.</summary>
    public static int Run(string chart, double seconds)
    {
        var figures = new ScreenFigures(seconds);
        var code = CommandGuard.Run(() =>
        {
            LiveProgram.Prepare();
            LiveProgram.Run(new PerformanceOptions { Path = chart }, ascii: false, figures);
            return ExitCodes.Ok;
        });
        Console.Error.WriteLine(figures.ToString());
        return code;
    }

    /// <inheritdoc/>
    public bool Look(long pictures, Health? health)
    {
        _health = health ?? _health;
        var now = Stopwatch.GetElapsedTime(_start).TotalSeconds;
        if (_from == 0 && now > SettleSeconds)
        {
            (_from, _pictures, _garbage) = (now, pictures, GC.GetTotalAllocatedBytes());
            _processor = Process.GetCurrentProcess().TotalProcessorTime;
        }

        if (now < SettleSeconds + seconds)
        {
            return false;
        }

        (_span, _pictures, _garbage) = (now - _from, pictures - _pictures, GC.GetTotalAllocatedBytes() - _garbage);
        _processor = Process.GetCurrentProcess().TotalProcessorTime - _processor;
        return true;
    }

    /// <inheritdoc/>
    public override string ToString() => string.Create(
        CultureInfo.InvariantCulture,
        $"{_pictures / _span:0.0} pictures a second, {_processor.TotalSeconds / _span * 100:0.0} % of a core, {_garbage / _span / 1e6:0.00} MB/s of garbage; {_health}");
}
