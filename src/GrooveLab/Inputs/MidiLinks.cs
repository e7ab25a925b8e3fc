using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;

namespace GrooveLab.Inputs;

/// <summary>The MIDI ports of a run of the program: the one to which the band is sent. They stay open from chart to chart.</summary>
internal sealed class MidiLinks : IDisposable
{
    private MidiLinks(MidiSender? sender) => Sender = sender;

    /// <summary>Sends the band; null without a port.</summary>
    public MidiSender? Sender { get; }

    /// <summary>What the links do, in a few words; empty without any.</summary>
    public string Says => Sender?.Says ?? string.Empty;

    /// <summary>Opens the ports that were named.</summary>
    /// <param name="sendTo">The port to send to; null for none.</param>
    /// <param name="failures">Records their problems.</param>
    /// <returns>The links; null if no port was named.</returns>
    /// <exception cref="CommandFailure">A port cannot be opened.</exception>
    public static MidiLinks? Open(string? sendTo, FailureLog failures)
    {
        if (sendTo is null)
        {
            return null;
        }

        try
        {
            var port = MidiPorts.Find(sendTo, sends: true);
            return new MidiLinks(new MidiSender(port.Name, MidiPorts.OpenOut(port), () => MidiPorts.OpenOut(port), failures));
        }
        catch (MidiPortException problem)
        {
            throw Refused("--midi-out", problem);
        }
    }

    /// <summary>Adds the links to the settings of a performance.</summary>
    public LiveOptions For(LiveOptions options)
    {
        if (Sender is not { } sender)
        {
            return options;
        }

        var tap = new MidiTap();
        return options with { Tap = tap, Starting = session => sender.Attach(tap, session) };
    }

    /// <summary>The parts of a band that have no channel on a port, in words; null if all have one.</summary>
    public string? LeftOut(IReadOnlyList<Music.Bars.PartChannels> band)
    {
        string[] names = Sender is null ? [] : [.. band.Where(part => Math.Max(part.Channel, part.DampedChannel) >= MidiTap.Channels).Select(part => part.Name)];
        return names.Length == 0 ? null : $"a MIDI port has 16 channels: {Music.Wording.Words.And(names)} {(names.Length == 1 ? "is" : "are")} not sent";
    }

    /// <inheritdoc/>
    public void Dispose() => Sender?.Dispose();

    private static CommandFailure Refused(string option, MidiPortException problem) =>
        new(problem.IsMissing ? ExitCodes.BadInput : ExitCodes.NoDevice, $"{option}: {problem.Message}");
}
