using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Store;
using NAudio.Wave;

namespace GrooveLab.Commands;

/// <summary>How a band is played live from the command line.</summary>
internal sealed record LinePlayingOptions
{
    /// <summary>The output's name; null for the system's own.</summary>
    public string? Device { get; init; }

    /// <summary>Milliseconds of buffer.</summary>
    public int BufferMilliseconds { get; init; } = AudioOutputs.DefaultBufferMilliseconds;

    /// <summary>Opens another output than the system's; null for that one.</summary>
    public Func<ISampleProvider, IAudioOutput>? Open { get; init; }
}

/// <summary>Plays a band live with a one-line status, until it ends or is told to stop.</summary>
internal static class LinePlaying
{
    private static readonly TimeSpan Look = TimeSpan.FromMilliseconds(60);

    /// <summary>Plays to the end.</summary>
    /// <returns>The exit code: that playing failed, or that it did not.</returns>
    /// <exception cref="AudioDeviceException">There is no output to play on.</exception>
    public static int Play(IBarSource band, SoundFontBank bank, LinePlayingOptions settings)
    {
        const int Rate = AudioOutputs.DefaultSampleRate;
        using var session = new LiveSession(
            band,
            Banks.Synth(bank, Rate, band.Band, dry: false),
            settings.Open ?? (source => ResilientOutput.Open(
                settings.Device, Rate, settings.BufferMilliseconds, source, startWithoutDevice: false, Survived.Failures)),
            new LiveOptions { Failures = Survived.Failures });
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
        Console.Error.WriteLine("Starting softly. Ctrl+C ends it.");
        if (FirstStart.IsNow())
        {
            Console.Error.WriteLine(
                "Turn the volume down before the first note, headphones above all, and bring it up once the band plays. Rest your ears now and "
                + "then, and follow the guidance on hearing that holds where you live.");
        }
    }
}
