using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
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

    /// <summary>Opens an output; null for the system's own.</summary>
    public Func<ISampleProvider, IAudioOutput>? Open { get; init; }
}

/// <summary>Plays a band live with a one-line status, until it ends or is told to stop.</summary>
internal static class LinePlaying
{
    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(60);

    /// <summary>Plays to the end.</summary>
    /// <returns>The exit code.</returns>
    /// <exception cref="AudioDeviceException">No output can be opened.</exception>
    public static int Play(IBarSource band, SoundFontBank bank, LinePlayingOptions settings)
    {
        const int Rate = AudioOutputs.DefaultSampleRate;
        var synth = Report.Progress("preparing the sounds", (_, _) => Banks.Synth(bank, Rate, band.Band, dry: false));
        Banks.Tell(bank, band.Band.Where(settings.Plays ?? (_ => true)));
        using var session = new LiveSession(
            band,
            synth,
            settings.Open ?? (source => ResilientOutput.Open(
                settings.Device, Rate, settings.BufferMilliseconds, source, startWithoutDevice: false, Survived.Failures)),
            new LiveOptions { Failures = Survived.Failures, Plays = settings.Plays });
        using var stop = new CancellationTokenSource();
        using var interrupted = Register(PosixSignal.SIGINT, stop);
        using var terminated = Register(PosixSignal.SIGTERM, stop);
        using var hungUp = Register(PosixSignal.SIGHUP, stop);
        Advise();
        session.Start();
        var status = new StatusLine(band);
        while (!session.Completion.IsCompleted && !stop.IsCancellationRequested)
        {
            status.Show(session.Heard, session.Health);
            Survived.Write();
            session.Completion.Wait(Look);
        }

        if (stop.IsCancellationRequested)
        {
            settings.WasStopped = true;
            session.StopAsync().Wait();
        }

        status.End();
        HealthReport.Tell(session.Health);
        return session.Output.State == AudioOutputState.Faulted ? ExitCodes.Failed : ExitCodes.Ok;
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
