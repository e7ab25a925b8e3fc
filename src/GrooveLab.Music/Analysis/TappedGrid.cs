using GrooveLab.Music.Time;

namespace GrooveLab.Music.Analysis;

/// <summary>A tap on a known grid.</summary>
/// <param name="At">Its place in whole notes, a measurement.</param>
/// <param name="SecondsPerWhole">How long a whole note lasts there, in seconds.</param>
/// <param name="EndsNote">True for a tap that ends a note with a rest; false for a tap that begins a note.</param>
public readonly record struct GridTap(double At, double SecondsPerWhole, bool EndsNote = false);

/// <summary>A unit of a grid.</summary>
/// <param name="Start">Its place.</param>
/// <param name="Length">Its length.</param>
public readonly record struct GridUnit(Span Start, Span Length);

/// <summary>The places of taps on a known grid of units, their halves, thirds and, for quarters and longer units, quarters. All taps get their
/// places together: the likeliest path on which the order is kept, no two notes begin at one place, and simple places are preferred.</summary>
/// <remarks>The deviations are taken as normal around a mean, the player's lateness, which is found too. The path is found by dynamic
/// programming (Viterbi 1967); a tap is unsure when the best path through another place of it is nearly as likely. Time and memory are
/// proportional to the taps.</remarks>
public sealed class TappedGrid
{
    // Standard deviation of a tap to music, and of a tap that ends a note, in seconds. Trained tappers have 10 to 25 ms: from memory of the
    // literature after Wing and Kristofferson (1973).
    private const double Spread = 0.025;
    private const double EndSpread = 0.06;

    // Deviations above so many standard deviations cost no more than in proportion.
    private const double Outlier = 3;

    // The lateness of players: standard deviation, and the values that are tried.
    private const double LatenessSpread = 0.03;
    private const double MostLateness = 0.06;
    private const int LatenessSteps = 6;

    // A unit is not divided into steps shorter than the first, in seconds; below the second they cost more, in nats a second, because few
    // syllables are sung so fast.
    private const double ShortestStep = 0.07;
    private const double FastStep = 0.15;
    private const double FastCost = 60;

    // From twos to threes in the next unit, or back.
    private const double SwitchCost = 1;

    // A rival this close, in nats, makes a tap unsure: it is at most seven times less likely.
    private const double UnsureWithin = 2;

    // From this length on, in whole notes, a unit is also divided into quarters.
    private const double LongUnit = 0.25;

    private static readonly (int Division, double Cost)[] Divisions = [(1, 0), (2, 2), (3, 3.5), (4, 7)];

    private TappedGrid(IReadOnlyList<Span> places, IReadOnlyList<double> errors, IReadOnlyList<int> unsure, double lateness) =>
        (Places, Errors, Unsure, Lateness) = (places, errors, unsure, lateness);

    /// <summary>The place of each tap. A tap that ends a note may have the place of the next note.</summary>
    public IReadOnlyList<Span> Places { get; }

    /// <summary>The distance of each tap from its place in seconds, without the mean lateness; late is positive.</summary>
    public IReadOnlyList<double> Errors { get; }

    /// <summary>The taps that might as well have another place, ascending.</summary>
    public IReadOnlyList<int> Unsure { get; }

    /// <summary>How late the taps are on average, in seconds; early is negative.</summary>
    public double Lateness { get; }

    /// <summary>Finds the places.</summary>
    /// <param name="taps">The taps, ascending.</param>
    /// <param name="units">The units, ascending and without gaps.</param>
    /// <returns>Null if there are no taps, or more taps than places near them.</returns>
    public static TappedGrid? Find(IReadOnlyList<GridTap> taps, IReadOnlyList<GridUnit> units)
    {
        if (taps.Count == 0 || units.Count == 0)
        {
            return null;
        }

        Path? best = null;
        for (var step = -LatenessSteps / 2; step <= LatenessSteps / 2; step++)
        {
            var tried = Path.Find(taps, units, step * MostLateness * 2 / LatenessSteps);
            best = tried is not null && (best is null || tried.Cost < best.Cost) ? tried : best;
        }

        if (best is null)
        {
            return null;
        }

        // The mean of the deviations, with the usual lateness of players as one more observation.
        var notes = Enumerable.Range(0, taps.Count).Where(i => !taps[i].EndsNote).ToList();
        var weight = Spread * Spread / (LatenessSpread * LatenessSpread);
        var mean = notes.Sum(i => best.Errors[i] + best.Lateness) / (notes.Count + weight);
        best = Path.Find(taps, units, mean) is { } refined && refined.Cost <= best.Cost ? refined : best;
        return new TappedGrid([.. best.States.Select(state => state.Place)], best.Errors, best.Unsure(), best.Lateness);
    }

    // A place of a tap, in a unit with a division.
    private readonly record struct State(int Unit, int Division, int Step, Span Place, double Cost, double UnitCost);

    private sealed class Path(List<State>[] all, double[][] forward, int[] chosen, double[] errors, double lateness, double cost, IReadOnlyList<GridTap> taps)
    {
        public double Cost => cost;

        public double Lateness => lateness;

        public double[] Errors => errors;

        public IEnumerable<State> States => chosen.Select((state, i) => all[i][state]);

        public static Path? Find(IReadOnlyList<GridTap> taps, IReadOnlyList<GridUnit> units, double lateness)
        {
            var all = new List<State>[taps.Count];
            var forward = new double[taps.Count][];
            var from = new int[taps.Count][];
            var near = 0;
            for (var i = 0; i < taps.Count; i++)
            {
                all[i] = Near(taps[i], units, lateness, ref near);
                forward[i] = new double[all[i].Count];
                from[i] = new int[all[i].Count];
                for (var s = 0; s < all[i].Count; s++)
                {
                    var state = all[i][s];
                    forward[i][s] = i == 0 ? state.Cost + state.UnitCost : double.PositiveInfinity;
                    for (var p = 0; i > 0 && p < all[i - 1].Count; p++)
                    {
                        var total = forward[i - 1][p] + Step(all[i - 1][p], state, taps[i - 1].EndsNote && !taps[i].EndsNote) + state.Cost;
                        if (total < forward[i][s])
                        {
                            (forward[i][s], from[i][s]) = (total, p);
                        }
                    }
                }
            }

            var last = Least(forward[^1]);
            if (last < 0)
            {
                return null;
            }

            var cost = forward[^1][last] + (lateness * lateness / (2 * LatenessSpread * LatenessSpread));
            var chosen = new int[taps.Count];
            var errors = new double[taps.Count];
            for (var i = taps.Count - 1; i >= 0; i--)
            {
                (chosen[i], last) = (last, from[i][last]);
                errors[i] = ErrorOf(taps[i], all[i][chosen[i]].Place, lateness);
            }

            return new Path(all, forward, chosen, errors, lateness, cost, taps);
        }

        public List<int> Unsure()
        {
            var unsure = new List<int>();
            var best = forward[^1][chosen[^1]];
            var backward = new double[all[^1].Count];
            for (var i = all.Length - 1; i >= 0; i--)
            {
                var place = all[i][chosen[i]].Place;
                var rival = double.PositiveInfinity;
                for (var s = 0; s < all[i].Count; s++)
                {
                    rival = all[i][s].Place == place ? rival : Math.Min(rival, forward[i][s] + backward[s]);
                }

                if (rival < best + UnsureWithin && !taps[i].EndsNote)
                {
                    unsure.Insert(0, i);
                }

                if (i == 0)
                {
                    break;
                }

                var before = new double[all[i - 1].Count];
                for (var p = 0; p < before.Length; p++)
                {
                    before[p] = double.PositiveInfinity;
                    for (var s = 0; s < all[i].Count; s++)
                    {
                        before[p] = Math.Min(
                            before[p], backward[s] + all[i][s].Cost + Step(all[i - 1][p], all[i][s], taps[i - 1].EndsNote && !taps[i].EndsNote));
                    }
                }

                backward = before;
            }

            return unsure;
        }

        // The units around a tap, with all their divisions.
        private static List<State> Near(GridTap tap, IReadOnlyList<GridUnit> units, double lateness, ref int near)
        {
            var at = tap.At - (lateness / tap.SecondsPerWhole);
            while (near + 1 < units.Count && units[near + 1].Start.Wholes.ToDouble() <= at)
            {
                near++;
            }

            var states = new List<State>();
            for (var u = Math.Max(0, near - 1); u <= Math.Min(units.Count - 1, near + 2); u++)
            {
                var seconds = units[u].Length.Wholes.ToDouble() * tap.SecondsPerWhole;
                foreach (var (division, plain) in Divisions)
                {
                    if ((division > 1 && seconds / division < ShortestStep) || (division > 3 && units[u].Length.Wholes.ToDouble() < LongUnit) || (tap.EndsNote && division > 2))
                    {
                        continue;
                    }

                    var unitCost = plain + (division > 1 ? FastCost * Math.Max(0, FastStep - (seconds / division)) : 0);
                    for (var step = 0; step < division; step++)
                    {
                        var place = units[u].Start + (units[u].Length * new Rational(step, division));
                        var deviations = Math.Abs(ErrorOf(tap, place, lateness)) / (tap.EndsNote ? EndSpread : Spread);
                        var cost = deviations <= Outlier ? deviations * deviations / 2 : Outlier * (deviations - (Outlier / 2));
                        states.Add(new State(u, division, step, place, cost, unitCost));
                    }
                }
            }

            return states;
        }

        private static double ErrorOf(GridTap tap, Span place, double lateness) => ((tap.At - place.Wholes.ToDouble()) * tap.SecondsPerWhole) - lateness;

        // From one tap to the next; infinite if that is not possible.
        private static double Step(State before, State after, bool mayBeEqual)
        {
            if (after.Unit == before.Unit)
            {
                return after.Division == before.Division && (after.Step > before.Step || (mayBeEqual && after.Step == before.Step)) ? 0 : double.PositiveInfinity;
            }

            return after.Unit < before.Unit ? double.PositiveInfinity
                : after.UnitCost + (before.Division > 1 && after.Division > 1 && before.Division == 3 != (after.Division == 3) ? SwitchCost : 0);
        }

        private static int Least(double[] costs)
        {
            var least = -1;
            for (var s = 0; s < costs.Length; s++)
            {
                least = !double.IsPositiveInfinity(costs[s]) && (least < 0 || costs[s] < costs[least]) ? s : least;
            }

            return least;
        }
    }
}
