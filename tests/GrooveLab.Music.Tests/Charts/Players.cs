using GrooveLab.Music.Band;
using GrooveLab.Music.Ensemble;

namespace GrooveLab.Music.Tests.Charts;

/// <summary>A band built in code. Strings and ranges: common practice, no source.</summary>
internal static class Players
{
    public static readonly Instrument Bouzouki = new()
    {
        Name = "bouzouki",
        Technique = Technique.Plectrum,
        Lowest = 43,
        Highest = 86,
        Strings = [43, 50, 57, 62],
        Program = 25,
        DampedProgram = 28,
    };

    public static readonly Instrument Banjo = new()
    {
        Name = "banjo",
        Technique = Technique.Fingers,
        Lowest = 48,
        Highest = 81,
        Strings = [67, 50, 55, 59, 62],
        ShortDrone = true,
        Frets = 19,
        Program = 105,
    };

    public static readonly Instrument Guitar = new()
    {
        Name = "guitar",
        Technique = Technique.Fingers,
        Lowest = 40,
        Highest = 81,
        Strings = [40, 45, 50, 55, 59, 64],
        Program = 24,
    };

    public static readonly Instrument Dulcimer = new()
    {
        Name = "dulcimer",
        Technique = Technique.Hammers,
        Lowest = 50,
        Highest = 86,
        Program = 15,
    };

    public static readonly Instrument DoubleBass = new()
    {
        Name = "double bass",
        Technique = Technique.Fingers,
        Lowest = 28,
        Highest = 55,
        Strings = [28, 33, 38, 43],
        Program = 32,
    };

    public static readonly Instrument Cello = new()
    {
        Name = "cello",
        Technique = Technique.Bow,
        Lowest = 36,
        Highest = 69,
        Strings = [36, 43, 50, 57],
        Program = 42,
    };

    public static readonly Instrument Concertina = new()
    {
        Name = "concertina",
        Technique = Technique.Reed,
        Lowest = 55,
        Highest = 96,
        Program = 23,
    };

    public static readonly Instrument ClickBox = new()
    {
        Name = "clicks",
        Technique = Technique.Click,
        Lowest = 0,
        Highest = 127,
        Program = 0,
    };

    public static Part Pulse(PulseSettings? settings = null) => Of("pulse", Role.Pulse, Bouzouki, 50, 74, settings);

    public static Part Roll(Instrument? on = null, RollSettings? settings = null) => on == null || on == Banjo
        ? Of("roll", Role.Roll, Banjo, 50, 74, settings)
        : Of("roll", Role.Roll, on, on == Bouzouki ? 50 : 52, on == Bouzouki ? 79 : 77, settings);

    public static Part Bass(BassSettings? settings = null) => Of("bass", Role.Bass, DoubleBass, 28, 50, settings);

    public static Part Sustain(SustainSettings? settings = null) => Of("sustain", Role.Sustain, Cello, 48, 67, settings);

    public static Part Tune(TuneSettings? settings = null) => Of("tune", Role.Tune, Concertina, 55, 96, settings);

    public static Part Clicks(CountSettings? settings = null) => Of("count", Role.Count, ClickBox, 0, 127, settings);

    public static IReadOnlyList<Part> Band(Instrument? roll = null) => [Pulse(), Roll(roll), Bass(), Sustain(), Tune(), Clicks()];

    private static Part Of(string name, Role role, Instrument instrument, int lowest, int highest, RoleSettings? settings) => new()
    {
        Name = name,
        Role = role,
        Instrument = instrument,
        Lowest = lowest,
        Highest = highest,
        Settings = settings ?? RoleSettings.For(role),
    };
}
