using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Failures;
using GrooveLab.Audio.LiveMidi;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Inputs;

/// <summary>The MIDI ports of a run of the program: the one to which the band is sent, and the one whose clock it follows. They stay open from chart
/// to chart.</summary>
internal sealed class MidiLinks : IDisposable
{
    private const int ClocksInWhole = 96;

    private MidiLinks(MidiSender? sender, MidiFollower? follower) => (Sender, Follower) = (sender, follower);

    /// <summary>Sends the band; null without a port.</summary>
    public MidiSender? Sender { get; }

    /// <summary>Leads the band; null without a port.</summary>
    public MidiFollower? Follower { get; }

    /// <summary>The device that is followed, which nothing else can open; null without one.</summary>
    public string? FollowedDevice { get; private init; }

    /// <summary>What the links do, in a few words.</summary>
    public string Says => string.Join("; ", new[] { Sender?.Says, Follower?.Says }.OfType<string>());

    /// <summary>Why the tempo cannot be changed here; null if it can.</summary>
    public string? TempoRefusal => Follower is { } leader ? $"the tempo follows the clock of {leader.Name}: change it there" : null;

    /// <summary>Opens the ports that were named.</summary>
    /// <param name="sendTo">The port to send to; null for none.</param>
    /// <param name="follow">The port whose clock the band follows; null for none.</param>
    /// <param name="failures">Records their problems.</param>
    /// <returns>The links; null if no port was named.</returns>
    /// <exception cref="CommandFailure">A port cannot be opened, or both are the same.</exception>
    public static MidiLinks? Open(string? sendTo, string? follow, FailureLog failures)
    {
        if (sendTo is null && follow is null)
        {
            return null;
        }

        var option = "--midi-out";
        MidiSender? sender = null;
        try
        {
            var target = sendTo is null ? null : MidiPorts.Find(sendTo, sends: true);
            option = "--follow-clock";
            var source = follow is null ? null : MidiPorts.Find(follow, sends: false);
            if (target is not null && source is not null && IsSame(target, source))
            {
                throw CommandFailure.BadInput($"--follow-clock: {source.Name} is also the port of --midi-out, and a band cannot follow the clock that it sends; give another port");
            }

            option = "--midi-out";
            sender = target is null ? null : new MidiSender(target.Name, MidiPorts.OpenOut(target), () => MidiPorts.OpenOut(target), failures);
            option = "--follow-clock";
            return new MidiLinks(
                sender, source is null ? null : new MidiFollower(source.Name, MidiPorts.OpenIn(source), () => MidiPorts.OpenIn(source), failures))
            {
                FollowedDevice = source?.Path,
            };
        }
        catch (MidiPortException problem)
        {
            sender?.Dispose();
            throw new CommandFailure(problem.IsMissing ? ExitCodes.BadInput : ExitCodes.NoDevice, $"{option}: {problem.Message}");
        }
    }

    /// <summary>Adds the links to the settings of a performance.</summary>
    /// <param name="options">The settings.</param>
    /// <param name="source">The bars to play.</param>
    /// <param name="from">The first of them.</param>
    public LiveOptions For(LiveOptions options, IBarSource source, int from)
    {
        var tap = Sender is null ? null : new MidiTap();
        var first = source.BarAt(from);
        var steady = first.Tempi[0].Tempo;
        var clock = (first.Start.Wholes * ClocksInWhole).Floor();
        return options with
        {
            Tap = tap,
            WaitsToBegin = Follower is not null,
            SteadyTempo = Follower is null ? null : steady,
            Starting = session =>
            {
                if (tap is not null)
                {
                    Sender!.Attach(tap, session);
                }

                Follower?.Attach(session, clock, steady);
            },
        };
    }

    /// <summary>The bar in which a place of the song lies.</summary>
    /// <param name="clock">The place, in clocks.</param>
    /// <param name="start">The place of a bar's line; asked for bars from 0 on.</param>
    /// <param name="end">The number after the last bar; null if there is none.</param>
    public static int BarAt(long clock, Func<int, Position> start, int? end)
    {
        var place = new Rational(clock, ClocksInWhole);
        var bar = 0;
        while ((end is not { } last || bar + 1 < last) && start(bar + 1).Wholes <= place)
        {
            bar++;
        }

        return bar;
    }

    /// <summary>The parts of a band that have no channel on a port, in words; null if all have one.</summary>
    public string? LeftOut(IReadOnlyList<PartChannels> band)
    {
        string[] names = Sender is null ? [] : [.. band.Where(part => Math.Max(part.Channel, part.DampedChannel) >= MidiTap.Channels).Select(part => part.Name)];
        return names.Length == 0 ? null : $"a MIDI port has 16 channels: {Words.And(names)} {(names.Length == 1 ? "is" : "are")} not sent";
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        Follower?.Dispose();
        Sender?.Dispose();
    }

    // On Windows the two directions of a device are two ports of one name.
    private static bool IsSame(MidiPort a, MidiPort b) => OperatingSystem.IsWindows() ? a.Name == b.Name : Real(a.Path) == Real(b.Path);

    private static string Real(string path)
    {
        try
        {
            return File.ResolveLinkTarget(path, returnFinalTarget: true)?.FullName ?? path;
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            // Opening it tells why.
            return path;
        }
    }
}
