using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Outputs;
using GrooveLab.Store;
using NAudio.Wave;

namespace GrooveLab.Commands;

/// <summary>How a band is played live from the command line.</summary>
internal sealed record LinePlayingOptions
{
    /// <summary>The output's name; null for the system's default.</summary>
    public string? Device { get; init; }

    /// <summary>Buffer in milliseconds.</summary>
    public int BufferMilliseconds { get; init; } = AudioOutputs.DefaultBufferMilliseconds;

    /// <summary>True once a performance was stopped by a signal.</summary>
    public bool WasStopped { get; set; }

    /// <summary>True for each part that is heard; null for all.</summary>
    public Func<PartChannels, bool>? Plays { get; set; }

    /// <summary>The MIDI ports; null for none.</summary>
    public MidiLinks? Midi { get; init; }

    /// <summary>Opens an output; null for the system's own.</summary>
    public Func<ISampleProvider, IAudioOutput>? Open { get; init; }
}

/// <summary>Plays a band live with a one-line status, until it ends or is told to stop.</summary>
internal static class LinePlaying
{
    private const double UsualFade = 0.3;
    private const double ShortFade = 0.1;
    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(60);

    // While another's transport may start the band.
    private static readonly TimeSpan ShortLook = TimeSpan.FromMilliseconds(5);

    /// <summary>Plays to the end.</summary>
    /// <returns>The exit code.</returns>
    /// <exception cref="AudioDeviceException">No output can be opened.</exception>
    public static int Play(IBarSource band, SoundFontBank bank, LinePlayingOptions settings)
    {
        Banks.Tell(bank, band.Band.Where(settings.Plays ?? (_ => true)));
        if (settings.Midi is { } midi)
        {
            Console.Error.WriteLine(midi.Says + ".");
            if (midi.LeftOut(band.Band) is { } without)
            {
                Console.Error.WriteLine("groovelab: " + without);
            }
        }

        using var stop = new CancellationTokenSource();
        using var interrupted = Register(PosixSignal.SIGINT, stop);
        using var terminated = Register(PosixSignal.SIGTERM, stop);
        using var hungUp = Register(PosixSignal.SIGHUP, stop);
        Start? start = new(band.First, Begins: settings.Midi?.Follower is null);
        var isAdvised = false;
        Health health;
        AudioOutputState state;
        do
        {
            using var session = Session(band, bank, settings, start.Bar);
            if (!isAdvised)
            {
                isAdvised = true;
                Advise();
            }

            settings.Midi?.Follower?.Allow(start.Begins);
            session.Start();
            var status = new StatusLine(band);
            var bar = start.Bar;
            start = null;
            while (start is null && !session.Completion.IsCompleted && !stop.IsCancellationRequested)
            {
                status.Show(session.Heard, session.Health);
                Survived.Write();
                start = Followed(settings, band, session, bar);
                session.Completion.Wait(settings.Midi?.Follower is null ? Look : ShortLook);
            }

            if (start is not null || stop.IsCancellationRequested)
            {
                settings.WasStopped = stop.IsCancellationRequested;
                session.StopAsync(start is null ? UsualFade : ShortFade).Wait();
            }

            status.End();
            (health, state) = (session.Health, session.Output.State);
        }
        while (start is not null && !stop.IsCancellationRequested);

        HealthReport.Tell(health);
        return state == AudioOutputState.Faulted ? ExitCodes.Failed : ExitCodes.Ok;
    }

    private static LiveSession Session(IBarSource band, SoundFontBank bank, LinePlayingOptions settings, int from)
    {
        const int Rate = AudioOutputs.DefaultSampleRate;
        var synth = Report.Progress("preparing the sounds", (_, _) => Banks.Synth(bank, Rate, band.Band, dry: false));
        return new LiveSession(
            new BarRoute(band, from),
            synth,
            // Other instruments play the band without a sound device too.
            settings.Open ?? (source => ResilientOutput.Open(
                settings.Device, Rate, settings.BufferMilliseconds, source, startWithoutDevice: settings.Midi?.Sender is not null, Survived.Failures)),
            Options(settings, band, from));
    }

    // Where another's transport starts the band next; null to go on as it is.
    private static Start? Followed(LinePlayingOptions settings, IBarSource band, LiveSession session, int bar)
    {
        Start? next = null;
        while (settings.Midi?.Follower is { } leader && leader.TryTakeRequest(out var request))
        {
            var at = request.Kind == FollowKind.Stop ? 0 : MidiLinks.BarAt(request.Clock, index => band.BarAt(index).Start, band.End);
            var begins = request.Kind == FollowKind.Begin;
            if (session.IsWaiting && at == (next?.Bar ?? bar))
            {
                next = next is null ? null : next with { Begins = begins };
                leader.Allow(begins && next is null);
            }
            else
            {
                leader.Allow(begin: false);
                next = new Start(at, begins);
            }
        }

        return next;
    }

    private sealed record Start(int Bar, bool Begins);

    private static LiveOptions Options(LinePlayingOptions settings, IBarSource band, int from)
    {
        var options = new LiveOptions { Failures = Survived.Failures, Plays = settings.Plays };
        return settings.Midi?.For(options, band, from) ?? options;
    }

    private static PosixSignalRegistration Register(PosixSignal signal, CancellationTokenSource stop) =>
        PosixSignalRegistration.Create(signal, context =>
        {
            context.Cancel = true;
            stop.Cancel();
        });

    private static void Advise()
    {
        Console.Error.WriteLine("Starting quietly. Ctrl+C stops.");
        if (FirstStart.IsNow())
        {
            Console.Error.WriteLine(
                "Turn the volume down before the first note, especially on headphones, and turn it up once the band plays. Take breaks, "
                + "and follow your local hearing-safety guidance.");
        }
    }
}
