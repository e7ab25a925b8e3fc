using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Live;

/// <summary>
/// The chart that is saved: levels and pans are in it; what is muted, where the form stands and the level of the whole are of the moment and are
/// not.
/// </summary>
internal static class ChartSaver
{
    /// <summary>The chart with the tempo as it sounds written into it.</summary>
    public static Chart AtTempo(LiveState state)
    {
        var pace = state.Speed * (state.Orders.Ramp?.To ?? Rational.One);
        TempoMark Paced(TempoMark mark) => mark with { PerMinute = Rounded(mark.PerMinute * pace) };
        return pace == Rational.One ? state.Chart : state.Chart with
        {
            Tempo = Paced(state.Chart.Tempo),
            Sections =
            [
                .. state.Chart.Sections.Select(section => section.Tempo is not { } change ? section : section with
                {
                    Tempo = change with
                    {
                        From = change.From is { } from ? Paced(from) : null,
                        To = change.To is { } to ? Paced(to) : null,
                    },
                }),
            ],
        };
    }

    // Three decimals are more than anybody hears.
    private static Rational Rounded(Rational value) => value.Denominator <= 1000 ? value : new Rational((value * 1000).Round(), 1000);
}
