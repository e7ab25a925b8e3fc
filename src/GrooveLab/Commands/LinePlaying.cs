using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Store;

namespace GrooveLab.Commands;

/// <summary>How a band is played live from the command line.</summary>
internal sealed record LinePlayingOptions
{
    /// <summary>The output's name; null for the system's own.</summary>
    public string? Device { get; init; }

    /// <summary>Milliseconds of buffer.</summary>
    public int BufferMilliseconds { get; init; } = AudioOutputs.DefaultBufferMilliseconds;
}

/// <summary>Plays a band live with a one-line status, until it ends or is told to stop.</summary>
internal static class LinePlaying
{
    // Set by the real-time check: the right channel carries a frame counter, so that gaps can be counted in a recording.
    private const string FrameCounterVariable = "GROOVELAB_CHECK_FRAMES";

    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(60);

    /// <summary>Plays to the end.</summary>
    /// <exception cref="AudioDeviceException">There is no output to play on.</exception>
    public static void Play(IBarSource band, SoundFontBank bank, LinePlayingOptions settings)
    {
        const int Rate = AudioOutputs.DefaultSampleRate;
        var counted = Environment.GetEnvironmentVariable(FrameCounterVariable) == "1";
        using var session = new LiveSession(
            band,
            Banks.Synth(bank, Rate, band.Band, dry: false),
            source => ResilientOutput.Open(
                settings.Device, Rate, settings.BufferMilliseconds, counted ? new FrameCounterTap(source) : source, startWithoutDevice: false));
        using var stop = new CancellationTokenSource();
        using var interrupted = Register(PosixSignal.SIGINT, stop);
        using var terminated = Register(PosixSignal.SIGTERM, stop);
        using var hungUp = Register(PosixSignal.SIGHUP, stop);
        Advise();
        session.Start();
        var status = new StatusLine(band);
        while (!session.Completion.IsCompleted && !stop.IsCancellationRequested)
        {
            status.Show(session.Heard, session.Counters, session.Output.State == AudioOutputState.Silent);
            session.Completion.Wait(Look);
        }

        if (stop.IsCancellationRequested)
        {
            session.StopAsync().Wait();
        }

        status.End(session.Counters);
    }

    private static PosixSignalRegistration Register(PosixSignal signal, CancellationTokenSource stop) =>
        PosixSignalRegistration.Create(signal, context =>
        {
            context.Cancel = true;
            stop.Cancel();
        });

    private static void Advise()
    {
        Console.Error.WriteLine("Starting softly. Ctrl+C ends it.");
        if (FirstStart.IsNow())
        {
            Console.Error.WriteLine(
                "Turn the volume down before the first note, headphones above all, and bring it up once the band plays. Rest your ears now and "
                + "then, and follow the guidance on hearing that holds where you live.");
        }
    }

    // On a terminal one line that is written over; when piped a line for each bar.
    private sealed class StatusLine(IBarSource band)
    {
        private int _bar = int.MinValue;
        private int _width;

        public void Show(Playhead heard, LiveCounters counters, bool silent)
        {
            if (heard.Bar is not { } bar)
            {
                return;
            }

            var inBar = new Span(Rational.Max(Rational.Zero, heard.InBar.Wholes));
            if (TerminalOutput.IsDrawable)
            {
                var text = Text(bar, inBar, Gaps(counters), silent);
                Console.Out.Write('\r' + text.PadRight(_width));
                _width = text.Length;
            }
            else if (bar.Index != _bar)
            {
                Console.Out.WriteLine(Text(bar, Span.Zero, Gaps(counters), silent));
            }

            _bar = bar.Index;
        }

        public void End(LiveCounters counters)
        {
            if (TerminalOutput.IsDrawable)
            {
                Console.Out.WriteLine();
            }

            var gaps = Gaps(counters);
            if (gaps > 0)
            {
                Console.Error.WriteLine($"groovelab: the sound had {gaps} gaps; a larger --buffer helps on a busy machine");
            }
        }

        private static long Gaps(LiveCounters counters) => counters.Underruns + counters.Engine.LateBars;

        private string Text(Bar bar, Span at, long gaps, bool silent)
        {
            var unit = (int)Math.Clamp((at / bar.Meter.Unit).Floor(), 0, 9999);
            var chord = bar.Chords.ChordAt(at).Text;
            var where = bar.Index < 0
                ? $"count-in {1 + (unit % bar.Meter.Units)}"
                : $"bar {bar.Index + 1}{(band.End is { } end ? $" of {end}" : string.Empty)}  {bar.Section}  {bar.Meter.Signature}  "
                    + (bar.IsEnding ? "rings" : $"{1 + (unit % bar.Meter.Units)}");
            return $"{where}  {chord}{(gaps > 0 ? $"  gaps {gaps}" : string.Empty)}{(silent ? "  (no sound device)" : string.Empty)}";
        }
    }
}
