using System.Globalization;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Outputs;

/// <summary>The tempo of a bar in words.</summary>
internal static class BarTempo
{
    /// <summary>A tempo as its reader feels it: "bar = 60 (eighth = 300)".</summary>
    public static string Of(Bar bar)
    {
        var tempo = bar.Tempi[bar.Stop == BandStop.Hold ? ^1 : 0].Tempo;
        var unit = $"{NoteValue.NameOf(bar.Meter.Unit)} = {Number(tempo.PerMinute(bar.Meter.Unit))}";
        return bar.Felt is FeltLevel.Bar or FeltLevel.BarGroup
            ? $"bar = {Number(tempo.PerMinute(bar.Meter.Length))} ({unit})"
            : unit;
    }

    private static string Number(Rational value) => value.ToDouble().ToString("0.##", CultureInfo.CurrentCulture);
}
