using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>The tempi of a series of bars in whole microseconds per quarter, as a file needs them. The error is bounded: before the
/// file's time would differ from the exact time by more than <see cref="MostMicroseconds"/>, a stretch of at most sixteen quarters gets a
/// tempo that corrects it.</summary>
internal sealed class WrittenTempi
{
    /// <summary>Maximum difference between the file's time and the exact time, in microseconds: less than a frame at 48,000 Hz.</summary>
    public const int MostMicroseconds = 20;

    /// <summary>Maximum microseconds per quarter in three bytes: 3.58 quarters per minute.</summary>
    public const int Slowest = 0xFF_FFFF;

    private const int PieceQuarters = 16;
    private const long Picoseconds = 1_000_000_000_000;

    // In microseconds times ticks per quarter.
    private readonly TempoStretches _stretches = new();
    private readonly int _perQuarter;

    private WrittenTempi(int ticksPerQuarter) => _perQuarter = ticksPerQuarter;

    /// <summary>The start tick, microseconds per quarter.</summary>
    public IEnumerable<(long Tick, int Tempo)> All => _stretches.All;

    /// <summary>The largest difference between the file's time and the exact time at the ends of tempi, in microseconds.</summary>
    public double LargestError { get; private set; }

    /// <summary>Computes the tempi.</summary>
    /// <param name="bars">The bars.</param>
    /// <param name="grid">Their ticks.</param>
    /// <param name="tooSlow">Receives the indices in <paramref name="bars"/> of those below MIDI's minimum tempo.</param>
    public static WrittenTempi Of(IReadOnlyList<Bar> bars, TickGrid grid, Action<int> tooSlow)
    {
        var tempi = new WrittenTempi(grid.TicksPerQuarter);
        // File time minus exact time, in picoseconds times ticks per quarter: in this unit the file's time is a whole number.
        Int128 error = 0;
        for (var i = 0; i < bars.Count; i++)
        {
            var bar = bars[i];
            var stretch = TickGrid.StretchOf(bar.Meter.Signature);
            var piece = Span.Of(PieceQuarters, 4) / stretch;
            for (var t = 0; t < bar.Tempi.Count; t++)
            {
                var (onset, tempo) = bar.Tempi[t];
                var nominal = (tempo.Seconds(Span.Of(1, 4) / stretch) * 1_000_000).Round();
                if (nominal > Slowest)
                {
                    tooSlow(i);
                    break;
                }

                var until = t + 1 < bar.Tempi.Count ? bar.Tempi[t + 1].Onset : bar.Length;
                for (var from = onset; from < until; from += piece)
                {
                    var to = Span.Min(until, from + piece);
                    error = tempi.Add(
                        grid.TickAt(bar.Start + from), grid.TickAt(bar.Start + to), (int)Math.Max(1, nominal), tempo.Seconds(to - from), error);
                }
            }
        }

        return tempi;
    }

    /// <summary>The tick that the file plays a number of microseconds after another one; negative before the start.</summary>
    public long TickAfter(long tick, long microseconds) =>
        microseconds == 0 ? tick : _stretches.TickAt(_stretches.TimeAt(tick) + ((decimal)microseconds * _perQuarter));

    private Int128 Add(long from, long to, int nominal, Rational seconds, Int128 error)
    {
        var ticks = (Int128)(to - from);
        if (ticks <= 0)
        {
            return error;
        }

        var exact = (Int128)seconds.Numerator * Picoseconds * _perQuarter / seconds.Denominator;
        var most = (Int128)MostMicroseconds * 1_000_000 * _perQuarter;
        var tempo = nominal;
        var after = error + (ticks * tempo * 1_000_000) - exact;
        if (Int128.Abs(after) > most)
        {
            var each = ticks * 1_000_000;
            tempo = (int)Int128.Clamp(((2 * (exact - error)) + each) / (2 * each), 1, Slowest);
            after = error + (each * tempo) - exact;
        }

        LargestError = Math.Max(LargestError, (double)Int128.Abs(after) / 1_000_000 / _perQuarter);
        _stretches.Change(from, tempo);
        return after;
    }
}
