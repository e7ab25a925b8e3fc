using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the notes of a tune that has no text: rests in the gaps, ties over the bar lines, tuplets where there is no plain length.</summary>
internal sealed class TuneText(Tune tune, IReadOnlyList<BarMeter> meters, string section)
{
    /// <summary>The pickup, empty without one, and the bars without bar lines.</summary>
    /// <exception cref="ChartProblemException">The tune goes on after its section.</exception>
    public (string Pickup, IReadOnlyList<string> Bars) Write()
    {
        var writer = new NoteWriter(new NoteStyle());
        var cut = TuneBars.Cut(tune, tune.PickupLength, meters, section);
        var pickup = cut.Pickup.Count == 0 ? string.Empty : writer.Write(cut.Pickup, meters[0], wholeBar: false);
        return (pickup, [.. cut.Bars.Zip(meters, (bar, meter) => writer.Write(bar, meter, wholeBar: true))]);
    }
}
