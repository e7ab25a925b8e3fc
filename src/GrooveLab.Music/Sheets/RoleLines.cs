using System.Globalization;
using GrooveLab.Music.Band;

namespace GrooveLab.Music.Sheets;

/// <summary>What a part does, in one sentence for its player.</summary>
internal static class RoleLines
{
    /// <summary>The sentence of a part, "Pulse: a chord on every unit …".</summary>
    public static string Of(Part part) => part.Settings switch
    {
        PulseSettings pulse => "Pulse: " + Pulse(pulse) + ".",
        RollSettings roll => "Roll: " + Roll(roll) + ".",
        BassSettings bass => "Bass: the written bass on every downbeat and chord change"
            + (bass.Approaches > 0 ? "; leads into new chords by step." : "."),
        SustainSettings sustain => "Sustain: " + (sustain.Voices == 1 ? "one long line" : "two long lines") + ", common tones held, steps between chords"
            + (sustain.LaidBack == LayBack.None ? "." : "; " + Late(sustain.LaidBack) + "."),
        TuneSettings tune => "Tune: the melody" + Octaves(tune.Octaves) + (tune.Phrasing ? ", sung in phrases" : ", every note at its written length")
            + (tune.LaidBack == LayBack.None ? "." : "; " + Late(tune.LaidBack) + "."),
        CountSettings count => "Count: " + Count(count.On) + ".",
        _ => string.Empty,
    };

    /// <summary>The level of a part, "2 dB softer than usual"; empty for the usual level of its role.</summary>
    public static string Level(Part part)
    {
        var apart = part.LevelDecibels - HouseBand.Level(part.Role);
        return part.Silent ? "silent until it is switched on"
            : apart > 0 ? $"{Decibels(apart)} dB louder than usual"
            : apart < 0 ? $"{Decibels(-apart)} dB softer than usual"
            : string.Empty;
    }

    /// <summary>How far a part lays back.</summary>
    public static string Late(LayBack late) => late switch
    {
        LayBack.Half => "some long notes come half a unit late",
        LayBack.Unit => "some long notes come a unit late",
        LayBack.Lean => "all notes lean 40 to 80 ms behind the beat",
        _ => string.Empty,
    };

    private static string Decibels(double value) => value.ToString("0.#", CultureInfo.InvariantCulture);

    private static string Pulse(PulseSettings pulse)
    {
        var where = pulse.Share switch
        {
            PulseShare.Starts => "a chord on every group start",
            PulseShare.Between => "a chord on every unit between the group starts",
            _ => "a chord on every unit",
        };
        var how = pulse.Strokes switch
        {
            StrokeOrder.Heavy => "two down-up, three down-down-up",
            StrokeOrder.Down => "all strokes down",
            _ => "two down-up, three down-up-down, every group from above",
        };
        return $"{where}; {how}; {(pulse.Damped ? "felt beats ring, the rest is damped" : "all strokes ring")}";
    }

    private static string Roll(RollSettings roll) => roll.Crossing switch
    {
        Crossing.Free => "the short notes without a gap, in cells that run across the groups from the start of the section",
        Crossing.Land => "the short notes without a gap, in cells that run across the groups and meet the bar line at every bar group",
        _ => "the short notes without a gap, in cells that follow the groups; low note on the downbeat",
    };

    private static string Octaves(int octaves) => octaves switch
    {
        0 => string.Empty,
        1 => " an octave higher",
        -1 => " an octave lower",
        > 0 => $" {octaves} octaves higher",
        _ => $" {-octaves} octaves lower",
    };

    private static string Count(CountOn on) => on switch
    {
        CountOn.Units => "clicks on every unit",
        CountOn.Groups => "clicks on every group start",
        CountOn.Bars => "clicks on every bar line",
        CountOn.Nothing => "clicks only before the band starts",
        _ => "clicks on the felt beats",
    };
}
