using System.Globalization;

namespace GrooveLab.Music.Band;

/// <summary>The band for charts without parts, and the default level and pan of each role.</summary>
public static class HouseBand
{
    /// <summary>The largest number of parts of a band.</summary>
    public const int MostParts = 30;

    /// <summary>One part of each role: bouzouki, hammered dulcimer, plucked bass, cello, concertina and clicks.</summary>
    public static IReadOnlyList<Part> Parts(InstrumentCatalogue catalogue) =>
        [.. Enum.GetValues<Role>().Select(role => Part(role, catalogue.Default(role), catalogue))];

    /// <summary>A part with defaults for everything but role and instrument.</summary>
    public static Part Part(Role role, Instrument instrument, InstrumentCatalogue catalogue)
    {
        var (lowest, highest) = catalogue.Register(instrument, role);
        return new Part
        {
            Name = instrument.Name,
            Role = role,
            Instrument = instrument,
            Lowest = lowest,
            Highest = highest,
            LevelDecibels = Level(role),
            Pan = Pan(role),
            Settings = RoleSettings.For(role),
        };
    }

    /// <summary>The name of a part without a name of its own: its instrument's, with a number if that name is taken. The name is then
    /// taken.</summary>
    /// <param name="instrument">The part's instrument.</param>
    /// <param name="taken">The names of the other parts, in any case.</param>
    public static string FreeName(Instrument instrument, ICollection<string> taken)
    {
        var name = instrument.Name;
        for (var number = 2; taken.Contains(name, StringComparer.OrdinalIgnoreCase); number++)
        {
            name = string.Create(CultureInfo.InvariantCulture, $"{instrument.Name} {number}");
        }

        taken.Add(name);
        return name;
    }

    /// <summary>The default level of a role, in dB.</summary>
    public static double Level(Role role) => role switch
    {
        Role.Pulse => -3,
        Role.Roll => -6,
        Role.Bass => -2,
        Role.Sustain => -6,
        Role.Tune => 0,
        _ => -3,
    };

    /// <summary>The default pan of a role, from -100 (left) to 100 (right).</summary>
    public static int Pan(Role role) => role switch
    {
        Role.Pulse => -30,
        Role.Roll => 35,
        Role.Sustain => 15,
        Role.Tune => -10,
        _ => 0,
    };
}
