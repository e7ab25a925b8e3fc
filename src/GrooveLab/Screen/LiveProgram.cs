using System.Diagnostics;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;
using GrooveLab.Store;
using Terminal.Gui.App;
using Terminal.Gui.Input;

namespace GrooveLab.Screen;

/// <summary>
/// The program while the screen is open: opens charts, draws, handles keys, and ends so that terminal, sound and changes are safe whatever
/// ends it.
/// </summary>
internal static class LiveProgram
{
    // How often keys, pedals and the clock are polled. The library counts whole milliseconds, so this becomes some 8.5 ms.
    private const ushort LooksPerSecond = 120;
    private const double LookSeconds = 0.0085;

    // Shorter than the polling interval, so that no poll is skipped.
    private static readonly TimeSpan EveryLook = TimeSpan.FromMilliseconds(1);

    private const double PictureSeconds = 1 / 30.0;
    private const double KeepSeconds = 1;

    /// <summary>True if a screen can be shown.</summary>
    public static bool CanShow =>
        !Console.IsInputRedirected && TerminalOutput.IsDrawable;

    /// <summary>True when the arguments will probably open the screen. A guess that only <see cref="Prepare"/> uses.</summary>
    public static bool IsAskedFor(string[] arguments) =>
        (arguments.Length == 0 || arguments[0] == "play") && !arguments.Contains("--no-screen") && CanShow;

    /// <summary>
    /// Initializes the screen's library on a separate thread. On first use it reads its settings and binds them by reflection,
    /// which takes longer than anything else before the first picture and cannot be skipped.
    /// </summary>
    public static void Prepare() =>
        new Thread(static () => Surviving(
            "preparing the screen", static () => RuntimeHelpers.RunModuleConstructor(typeof(Application).Module.ModuleHandle)))
        {
            IsBackground = true,
            Name = "screen",
        }.Start();

    /// <summary>Runs until the player leaves.</summary>
    /// <exception cref="CommandFailure">The first chart cannot be read or played.</exception>
    /// <param name="options">What to play first, and how.</param>
    /// <param name="ascii">True: ASCII only, whatever the locale.</param>
    /// <param name="watcher">Observes the screen; may be null.</param>
    /// <param name="set">The songs to play; null for the chart of the options.</param>
    public static void Run(PerformanceOptions options, bool ascii, IScreenWatcher? watcher = null, SetList? set = null)
    {
        var keys = new ScreenKeys(KeySettings.Load(ScreenActions.Problem));
        var start = Stopwatch.GetTimestamp();
        double Clock() => Stopwatch.GetElapsedTime(start).TotalSeconds;
        keys.Clock = Clock;
        var stage = new Stage(options, set, keys);
        Exception? failure = null;
        var changes = string.Empty;
        using (var leaving = new Leaving(() => LeaveAnyway(stage.Performance, options.Midi)))
        using (var resizes = new Resizes())
        using (var stamps = new KeyStamps())
        using (var midi = MidiInput.OpenAll(Survived.Failures, options.Midi?.FollowedDevice))
        {
            Application.MaximumIterationsPerSecond = LooksPerSecond;
            var app = Application.Create();
            try
            {
                InitWithoutShell(app);
                app.Keyboard.KeyBindings.Remove(Key.Esc);
                var colours = Palette.FromEnvironment();
                app.Driver!.Force16Colors = colours == Colours.Sixteen;
                var screen = new LiveScreen(keys, Clock, new Palette(colours), ascii);
                var failures = new LibraryFailures();
                app.Keyboard.KeyDown += (_, key) =>
                {
                    if (LiveScreen.NameOf(key) is { } name)
                    {
                        failures.Own(() =>
                        {
                            keys.Press(name, Stopwatch.GetElapsedTime(start, stamps.Take()).TotalSeconds);
                            key.Handled = true;
                            screen.SetNeedsDraw();
                            return true;
                        });
                    }
                };
                var due = double.NegativeInfinity;
                var kept = 0.0;
                var told = 0L;
                var pedals = new Pedals();
                screen.Failures = failures;
                app.AddTimeout(EveryLook, () => failures.Own(() =>
                {
                    var now = Clock();

                    // While the runtime compiles the screen, starting the band would delay the first picture and gain little time.
                    stage.Turn(now);

                    while (midi.TryTake(out var message) || options.Midi?.Follower?.TryTake(out message) == true)
                    {
                        if (pedals.Press(message) is { } pedal)
                        {
                            keys.Pedal(pedal, Stopwatch.GetElapsedTime(start, message.Timestamp).TotalSeconds);
                        }
                    }

                    if (leaving.IsAsked || keys.Request == ScreenRequest.Quit || watcher?.Look(screen.Pictures, stage.Performance?.Health) == true)
                    {
                        app.RequestStop();
                        return false;
                    }

                    if (resizes.IsTimeToDraw())
                    {
                        screen.DrawAgain();
                    }

                    if (now >= due - (LookSeconds / 2))
                    {
                        // Scheduled by the clock, not from the last picture: one late picture does not delay the following ones.
                        due = Math.Max(due, now - PictureSeconds) + PictureSeconds;
                        screen.SetNeedsDraw();
                    }

                    if (now - kept > KeepSeconds)
                    {
                        kept = now;
                        stage.Performance?.Keep();
                        if (Survived.Failures.Total != told)
                        {
                            told = Survived.Failures.Total;
                            _ = Task.Run(static () => Surviving("writing the log of failures", static () => Survived.Write()));
                        }
                    }

                    return true;
                }));
                app.Run(screen, problem =>
                {
                    if (!failures.IsSurvived(screen.Pictures))
                    {
                        failure = problem;
                        return false;
                    }

                    if (LibraryFailures.IsUnknownKey(problem))
                    {
                        keys.Say("the terminal sent a key that has no name here", warns: false, Clock());
                    }
                    else
                    {
                        Survived.Failures.Add("using the terminal", problem);
                    }

                    return true;
                });
            }
#pragma warning disable CA1031 // The terminal and the user's changes come first; the failure is reported and recorded below.
            catch (Exception problem)
#pragma warning restore CA1031
            {
                failure = problem;
            }
            finally
            {
                // Restore the terminal even if the library fails, and let the sound fade.
                Surviving("restoring the terminal", app.Dispose);
                Surviving("keeping unsaved changes", () =>
                {
                    if (stage.Performance is { IsUnsaved: true } performance)
                    {
                        changes = performance.KeepNow() ? "; the next start offers the unsaved changes" : "; the unsaved changes could not be kept";
                    }
                });
                stage.End(Surviving);
            }
        }

        if (stage.Performance is { } last)
        {
            HealthReport.Tell(last.Health);
        }

        switch (failure)
        {
            case null:
                break;
            case CommandFailure problem:
                throw problem;
            default:
                Survived.Failures.Add("the screen failed", failure);
                throw new CommandFailure(
                    ExitCodes.Failed, $"the screen failed: {failure.Message}{changes}");
        }
    }

    // On Linux the library first runs a shell to find a clipboard program, which takes longer than drawing. Nothing is copied or
    // pasted here; if the library finds no shell, it works without a clipboard.
    private static void InitWithoutShell(IApplication app)
    {
        const string Programs = "PATH";
        var programs = Environment.GetEnvironmentVariable(Programs);
        try
        {
            // In the native program preventing it takes as long as letting it run.
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

    // If the terminal has disappeared, its library may wait forever. Keep the changes and fade the sound without it.
    private static void LeaveAnyway(LivePerformance? performance, MidiLinks? midi)
    {
        Surviving("keeping unsaved changes", () => performance?.Keep());
        Surviving("stopping the music", () => performance?.Stop());
        Surviving("ending the MIDI notes", () => midi?.Dispose());
        Surviving("writing the log of failures", static () => Survived.Write(last: true));
        Process.GetCurrentProcess().Kill();
    }

    // For a step whose failure must not prevent the next ones.
    private static void Surviving(string doing, Action what)
    {
        try
        {
            what();
        }
#pragma warning disable CA1031 // The next steps matter more; the failure is recorded.
        catch (Exception failure)
#pragma warning restore CA1031
        {
            Survived.Failures.Add(doing, failure);
        }
    }

    /// <summary>
    /// The terminal's changes of size. The terminal may cut, move or clear what it shows, at once or a moment later, and may be back at its old size
    /// before the library looks. Therefore everything is drawn again at once, and again when the size has been stable.
    /// </summary>
    private sealed class Resizes : IDisposable
    {
        private static readonly TimeSpan Settling = TimeSpan.FromMilliseconds(300);

        private readonly PosixSignalRegistration? _signal;
        private long _newest;
        private long _seen;
        private bool _settled = true;

        public Resizes()
        {
            if (!OperatingSystem.IsWindows())
            {
                _signal = PosixSignalRegistration.Create(PosixSignal.SIGWINCH, _ => Interlocked.Exchange(ref _newest, Stopwatch.GetTimestamp()));
            }
        }

        public bool IsTimeToDraw()
        {
            var newest = Interlocked.Read(ref _newest);
            if (newest != _seen)
            {
                (_seen, _settled) = (newest, false);
                return true;
            }

            if (_settled || Stopwatch.GetElapsedTime(newest) < Settling)
            {
                return false;
            }

            _settled = true;
            return true;
        }

        public void Dispose() => _signal?.Dispose();
    }

    /// <summary>The termination signals: the first asks the program to end; if it does not, the signal ends it.</summary>
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
}
