using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>Puts ticks on plain fractions of a quarter note. Each quarter has the coarsest grid that fits all onsets in it: exactly if
/// there is one, otherwise within a twenty-fourth of a quarter.</summary>
internal sealed class MidiQuantizer
{
    // Plain divisions of a quarter, the more usual first.
    private static readonly int[] Exact = [1, 2, 4, 3, 8, 6, 12, 16, 5, 7, 24, 32, 9, 10, 14, 15, 18, 20, 21, 28, 36, 48, 64, 96];
    private static readonly int[] Played = [1, 2, 4, 3, 8, 6, 12];

    private readonly int _ticks;
    private readonly Dictionary<long, int> _grids = [];

    /// <summary>Chooses the grids.</summary>
    /// <param name="ticksPerQuarter">Ticks in a quarter.</param>
    /// <param name="onsets">The onsets, ascending, each once.</param>
    public MidiQuantizer(int ticksPerQuarter, IReadOnlyList<long> onsets)
    {
        _ticks = ticksPerQuarter;
        var sum = 0.0;
        for (int from = 0, to; from < onsets.Count; from = to)
        {
            // An onset shortly before a beat belongs to it.
            var beat = Beat(onsets[from]);
            for (to = from + 1; to < onsets.Count && Beat(onsets[to]) == beat; to++)
            {
            }

            var grid = Grid(onsets, from, to, beat);
            _grids.Add(beat, grid);
            for (var i = from; i < to; i++)
            {
                var error = Error(onsets[i] - (beat * _ticks), grid);
                sum += error;
                LargestError = Math.Max(LargestError, error);
            }
        }

        MeanError = onsets.Count == 0 ? 0 : sum / onsets.Count;
    }

    /// <summary>The largest distance of an onset from its place, in ticks.</summary>
    public double LargestError { get; private set; }

    /// <summary>The mean distance, in ticks.</summary>
    public double MeanError { get; }

    /// <summary>The place of a tick on the grid of its quarter, in whole notes from the start.</summary>
    public Span At(long tick)
    {
        var beat = Beat(tick);
        var grid = _grids.GetValueOrDefault(beat, 4);
        var steps = Nearest(tick - (beat * _ticks), grid);
        return new Span((new Rational(beat, 1) + new Rational(steps, grid)) / 4);
    }

    /// <summary>The length of one step of the grid at a tick.</summary>
    public Span StepAt(long tick) => Span.Of(1, 4L * _grids.GetValueOrDefault(Beat(tick), 4));

    private long Beat(long tick) => (tick + (_ticks / 48)) / _ticks;

    private long Nearest(long offset, int grid) => (long)Math.Round((double)offset * grid / _ticks, MidpointRounding.AwayFromZero);

    private double Error(long offset, int grid) => Math.Abs(offset - ((double)Nearest(offset, grid) * _ticks / grid));

    private int Grid(IReadOnlyList<long> onsets, int from, int to, long beat)
    {
        double Largest(int grid)
        {
            var largest = 0.0;
            for (var i = from; i < to; i++)
            {
                largest = Math.Max(largest, Error(onsets[i] - (beat * _ticks), grid));
            }

            return largest;
        }

        foreach (var grid in Exact)
        {
            // A step of few ticks would fit anything.
            if (grid * 4 <= _ticks && Largest(grid) <= 1)
            {
                return grid;
            }
        }

        foreach (var grid in Played)
        {
            if (Largest(grid) <= _ticks / 24.0)
            {
                return grid;
            }
        }

        return Largest(16) < Largest(12) ? 16 : 12;
    }
}
