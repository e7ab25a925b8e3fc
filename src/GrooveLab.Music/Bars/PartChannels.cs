using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Bars;

/// <summary>The channels of a part, and its level and pan in the mix. The same for playing and for MIDI files.</summary>
/// <param name="Name">The part's name.</param>
/// <param name="Role">Its role.</param>
/// <param name="Instrument">Its instrument.</param>
/// <param name="Channel">Channel of its open notes, from 0; 9 for percussion.</param>
/// <param name="DampedChannel">Channel of its damped notes; the same when the instrument has no separate damped sound.</param>
/// <param name="LevelDecibels">Level in the mix, in dB, at most +12: the level in the chart plus the usual level of the role.</param>
/// <param name="Pan">-100 left to 100 right.</param>
public sealed record PartChannels(
    string Name, Role Role, Instrument Instrument, int Channel, int DampedChannel, double LevelDecibels, int Pan)
{
    /// <summary>The percussion channel of General MIDI.</summary>
    public const int PercussionChannel = 9;

    /// <summary>The largest number of channels of a band.</summary>
    public const int MostChannels = 64;

    /// <summary>The channel for a note.</summary>
    public int ChannelFor(Touch touch) => touch == Touch.Damped ? DampedChannel : Channel;

    /// <summary>Assigns the channels of a band: one to each part, two if the instrument has a separate damped sound, and channel 9 to
    /// percussion.</summary>
    public static IReadOnlyList<PartChannels> Assign(IReadOnlyList<Part> parts)
    {
        var next = 0;
        int Take()
        {
            if (next == PercussionChannel)
            {
                next++;
            }

            return next++;
        }

        var assigned = new List<PartChannels>(parts.Count);
        foreach (var part in parts)
        {
            var channel = part.Instrument.Unpitched ? PercussionChannel : Take();
            var damped = part.Instrument.DampedProgram is null ? channel : Take();
            assigned.Add(new PartChannels(
                part.Name, part.Role, part.Instrument, channel, damped, part.LevelDecibels + UsualLevel(part.Role), part.Pan));
        }

        return assigned;
    }

    // Roles that play softly get a higher level, so that every layer can be heard. Set by measuring rendered bands: common practice, no
    // source.
    private static double UsualLevel(Role role) => role switch
    {
        Role.Pulse => -1.2,
        Role.Roll => 3.3,
        Role.Sustain => 5.3,
        Role.Bass => 1.6,
        Role.Tune => 3.9,
        _ => 0,
    };
}
