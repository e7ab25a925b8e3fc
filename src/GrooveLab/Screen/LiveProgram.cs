using System.Diagnostics;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Store;
using Terminal.Gui.App;
using Terminal.Gui.Input;

namespace GrooveLab.Screen;

/// <summary>
/// The program while the screen is up: opens charts, draws, takes keys, and leaves so that terminal, sound and changes are safe whatever
/// ends it.
/// </summary>
internal static class LiveProgram
{
    // Set by the tests: what is thrown while drawing, after so many pictures.
    private const string CrashVariable = "GROOVELAB_CHECK_CRASH";

    // Set by the measurements: after so many seconds, or with "start" once the band plays, a line of figures goes to standard error, and the
    // program ends.
    private const string MeasureVariable = "GROOVELAB_CHECK_SECONDS";

    // How often keys, pedals and the clock are looked at. The library counts in whole milliseconds, so that these become some 8.5 ms.
    private const ushort LooksPerSecond = 120;
    private const double LookSeconds = 0.0085;

    // Shorter than from one look to the next, so that none is left out.
    private static readonly TimeSpan EveryLook = TimeSpan.FromMilliseconds(1);

    private const double PictureSeconds = 1 / 30.0;
    private const double KeepSeconds = 1;

    /// <summary>True where a screen can be shown.</summary>
    public static bool CanShow =>
        !Console.IsInputRedirected && TerminalOutput.IsDrawable;

    /// <summary>Whether a command line looks as if it led to the screen. A guess, for <see cref="Prepare"/>: nothing else hangs on it.</summary>
    public static bool IsAskedFor(string[] arguments) =>
        (arguments.Length == 0 || arguments[0] == "play") && !arguments.Contains("--no-screen") && CanShow;

    /// <summary>
    /// Lets the screen's library begin, on a thread of its own. It reads settings of its own and binds them by reflection when it is first
    /// touched, which takes longer than anything else before the first picture and cannot be left out.
    /// </summary>
    public static void Prepare() =>
        new Thread(static () => RuntimeHelpers.RunModuleConstructor(typeof(Application).Module.ModuleHandle))
        {
            IsBackground = true,
            Name = "screen",
        }.Start();

    /// <summary>Runs until the player leaves.</summary>
    /// <exception cref="CommandFailure">The first chart cannot be read or played.</exception>
    public static void Run(PerformanceOptions options, bool ascii)
    {
        Task<LivePerformance>? opening = null;
        Task<LivePerformance> Open() => Task.Run(() => LivePerformance.Open(options));
        var stand = new Stand(KeySettings.Load());
        var start = Stopwatch.GetTimestamp();
        double Clock() => Stopwatch.GetElapsedTime(start).TotalSeconds;
        LivePerformance? performance = null;
        Exception? failure = null;
        using (var leaving = new Leaving(() => LeaveAnyway(performance)))
        using (var stamps = new KeyStamps())
        using (var midi = MidiInput.OpenAll())
        {
            Application.MaximumIterationsPerSecond = LooksPerSecond;
            var app = Application.Create();
            try
            {
                InitWithoutShell(app);
                app.Keyboard.KeyBindings.Remove(Key.Esc);
                var colours = Palette.FromEnvironment();
                app.Driver!.Force16Colors = colours == Colours.Sixteen;
                var screen = new LiveScreen(stand, Clock, new Palette(colours), ascii) { Drawing = Crash() };
                app.Keyboard.KeyDown += (_, key) =>
                {
                    if (LiveScreen.NameOf(key) is { } name)
                    {
                        stand.Press(name, Stopwatch.GetElapsedTime(start, stamps.Take()).TotalSeconds);
                        key.Handled = true;
                        screen.SetNeedsDraw();
                    }
                };
                var due = double.NegativeInfinity;
                var kept = 0.0;
                var figures = new Figures(Clock);
                var pedals = new Pedals();
                app.AddTimeout(EveryLook, () =>
                {
                    var now = Clock();

                    // While the runtime still compiles the screen, the band would take the core from the first picture and hardly be sooner itself.
                    opening ??= Open();
                    if (opening.IsCompleted && performance is null)
                    {
                        performance = opening.GetAwaiter().GetResult();
                        stand.Enter(performance);
                        performance.Start();
                        if (performance.Offer is { } offer)
                        {
                            stand.Say(offer, warns: false, now + 10);
                        }
                    }

                    while (midi.TryTake(out var message))
                    {
                        if (pedals.Press(message) is { } pedal)
                        {
                            stand.Pedal(pedal, Stopwatch.GetElapsedTime(start, message.Timestamp).TotalSeconds);
                        }
                    }

                    if (leaving.IsAsked || stand.Wish == StandWish.Quit || figures.AreDue(screen, plays: performance is not null))
                    {
                        app.RequestStop();
                        return false;
                    }

                    if (stand.Wish != StandWish.None && performance is not null)
                    {
                        performance = Changed(performance, stand, now);
                    }

                    if (now >= due - (LookSeconds / 2))
                    {
                        // By the clock, not from the last one on: what a picture comes late by is not lost to those that follow.
                        due = Math.Max(due, now - PictureSeconds) + PictureSeconds;
                        screen.SetNeedsDraw();
                    }

                    if (now - kept > KeepSeconds)
                    {
                        kept = now;
                        performance?.Keep();
                    }

                    return true;
                });
                app.Run(screen, problem =>
                {
                    failure = problem;
                    return false;
                });
                figures.Tell(performance);
            }
#pragma warning disable CA1031 // Whatever it was, the terminal and the player's changes come first; it is told and counted as a failure below.
            catch (Exception problem)
#pragma warning restore CA1031
            {
                failure = problem;
            }
            finally
            {
                Restore(app);
                if (performance is null && opening is { IsCompletedSuccessfully: true })
                {
                    performance = opening.Result;
                }

                performance?.Stop();
                performance?.Dispose();
            }
        }

        switch (failure)
        {
            case null:
                break;
            case CommandFailure problem:
                throw problem;
            default:
                throw new CommandFailure(
                    ExitCodes.Failed, $"the screen failed: {failure.Message}; changes that were not saved are offered at the next start");
        }
    }

    // On Linux the library begins by asking a shell for a clipboard program, and waits for the answer longer than it draws. Nothing is copied or
    // pasted here; where the shell is not found the library does without.
    private static void InitWithoutShell(IApplication app)
    {
        const string Programs = "PATH";
        var programs = Environment.GetEnvironmentVariable(Programs);
        try
        {
            // In the native program refusing takes as long as asking.
            if (OperatingSystem.IsLinux() && RuntimeFeature.IsDynamicCodeCompiled)
            {
                Environment.SetEnvironmentVariable(Programs, null);
            }

            app.Init();
        }
        finally
        {
            Environment.SetEnvironmentVariable(Programs, programs);
        }
    }

    // A terminal that has gone away may keep its library waiting for ever. What matters is done without it: changes are kept, the sound fades.
    private static void LeaveAnyway(LivePerformance? performance)
    {
        try
        {
            performance?.Keep();
            performance?.Stop();
        }
#pragma warning disable CA1031 // The program ends here, whatever is wrong with it.
        catch (Exception)
#pragma warning restore CA1031
        {
            Environment.FailFast(null);
        }

        Process.GetCurrentProcess().Kill();
    }

    // What the terminal was given must go back even when the library fails to do it.
    private static void Restore(IApplication app)
    {
        try
        {
            app.Dispose();
        }
#pragma warning disable CA1031 // A terminal that has gone away cannot be restored, and must not keep the sound from fading.
        catch (Exception)
#pragma warning restore CA1031
        {
            return;
        }
    }

    private static LivePerformance Changed(LivePerformance performance, Stand stand, double now)
    {
        var options = stand.Wish == StandWish.Open ? performance.Options with { Path = stand.Wanted, Asked = chart => chart } : performance.Options;
        stand.Wish = StandWish.None;
        LivePerformance next;
        try
        {
            // So that the same chart, opened again, offers them.
            performance.KeepNow();
            next = LivePerformance.Open(options);
        }
        catch (CommandFailure problem)
        {
            stand.Say(problem.Message.ReplaceLineEndings(" "), warns: true, now);
            return performance;
        }

        performance.Stop();
        performance.Dispose();
        stand.Enter(next);
        if (next.Offer is { } offer)
        {
            stand.Say(offer, warns: false, now);
        }

        next.Start();
        return next;
    }

    private static Action? Crash() => Environment.GetEnvironmentVariable(CrashVariable) is { Length: > 0 } word && int.TryParse(word, out var after)
        ? () =>
        {
            if (after-- <= 0)
            {
                throw new InvalidOperationException("a failure that was asked for");
            }
        }
    : null;

    /// <summary>The signals that end a program, turned into a wish to leave; where that is not followed, the program ends all the same.</summary>
    private sealed class Leaving : IDisposable
    {
        private static readonly TimeSpan Patience = TimeSpan.FromSeconds(3);

        private readonly ManualResetEventSlim _done = new();
        private readonly Action _anyway;
        private int _watched;
        private readonly List<PosixSignalRegistration> _signals = [];
        private volatile bool _asked;

        public Leaving(Action anyway)
        {
            _anyway = anyway;
            foreach (var signal in new[] { PosixSignal.SIGINT, PosixSignal.SIGTERM, PosixSignal.SIGHUP })
            {
                _signals.Add(PosixSignalRegistration.Create(signal, context =>
                {
                    context.Cancel = true;
                    _asked = true;
                    Watch();
                }));
            }
        }

        public bool IsAsked => _asked;

        public void Dispose()
        {
            _done.Set();
            _signals.ForEach(signal => signal.Dispose());
        }

        private void Watch()
        {
            if (Interlocked.Exchange(ref _watched, 1) == 0)
            {
                new Thread(() =>
                {
                    if (!_done.Wait(Patience))
                    {
                        _anyway();
                    }
                })
                { IsBackground = true }.Start();
            }
        }
    }

    /// <summary>What the screen costs, for the measurements.</summary>
    private sealed class Figures
    {
        private readonly Func<double> _clock;
        private readonly double _seconds;
        private double _from;
        private TimeSpan _processor;
        private long _garbage;
        private long _pictures;
        private readonly bool _startOnly;
        private double _first = -1;
        private double _plays = -1;
        private LiveScreen? _screen;

        public Figures(Func<double> clock)
        {
            _clock = clock;
            var asked = Environment.GetEnvironmentVariable(MeasureVariable);
            _startOnly = asked == "start";
            _seconds = double.TryParse(asked, out var seconds) ? seconds : 0;
        }

        public bool AreDue(LiveScreen screen, bool plays)
        {
            if (_seconds <= 0 && !_startOnly)
            {
                return false;
            }

            if (_first < 0 && screen.Pictures > 0)
            {
                _first = SinceStart();
            }

            if (_plays < 0 && plays)
            {
                _plays = SinceStart();
                _pictures = screen.Pictures;
            }

            if (_startOnly)
            {
                // A picture with the band on it, too.
                return _plays >= 0 && screen.Pictures > _pictures;
            }

            // The start is not the rule.
            if (_screen is null && _clock() > 3)
            {
                _screen = screen;
                _from = _clock();
                _processor = Process.GetCurrentProcess().TotalProcessorTime;
                _garbage = GC.GetTotalAllocatedBytes();
                _pictures = screen.Pictures;
            }

            return _clock() > _seconds + 3;
        }

        public void Tell(LivePerformance? performance)
        {
            if (_startOnly)
            {
                Console.Error.WriteLine(FormattableString.Invariant($"first picture after {_first:0} ms, the band plays after {_plays:0} ms"));
            }

            if (_screen is null)
            {
                return;
            }

            var seconds = _clock() - _from;
            Console.Error.WriteLine(FormattableString.Invariant(
                $"first picture after {_first:0} ms; {(_screen.Pictures - _pictures) / seconds:0.0} pictures a second, ")
                + FormattableString.Invariant(
                    $"{(Process.GetCurrentProcess().TotalProcessorTime - _processor).TotalSeconds / seconds * 100:0.0} % of a core, ")
                + FormattableString.Invariant($"{(GC.GetTotalAllocatedBytes() - _garbage) / seconds / 1e6:0.00} MB/s of garbage, ")
                + $"underruns {performance?.Counters.Underruns}, late bars {performance?.Counters.Engine.LateBars}");
        }

        private static double SinceStart() => (DateTime.Now - Process.GetCurrentProcess().StartTime).TotalMilliseconds;
    }
}
