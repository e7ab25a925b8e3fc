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
/// <param name="BeginsPair">True if a triplet may fill this unit and the next.</param>
public readonly record struct GridUnit(Span Start, Span Length, bool BeginsPair = false);

/// <summary>The places of taps on a known grid of units, their halves, thirds and, for quarters and longer units, quarters, and of triplets over two
/// units. All taps get their places together: the likeliest path on which the order is kept, no two notes begin at one place, and simple places
/// are preferred.</summary>
/// <remarks>The deviations are taken as normal around a mean, the player's lateness; it and the spread are found too. The path is found by dynamic
/// programming (Viterbi 1967); a tap is unsure when the best path through another place of it is nearly as likely. Time and memory are
/// proportional to the taps.</remarks>
public sealed class TappedGrid
{
    // Standard deviation of a tap to music, in seconds: the usual one, which counts as so many taps, and below those that are tried. Trained tappers
    // have 10 to 25 ms: from memory of the literature after Wing and Kristofferson (1973).
    private const double Spread = 0.025;
    private const double UsualSpread = 0.018;
    private const double SpreadWeight = 6;

    // Standard deviation of a tap that ends a note, in seconds.
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

    private const int Three = 3;

    // A division that the section uses costs this once, and then only this part of its price in each unit.
    private const double HabitCost = 3;
    private const double HabitPart = 0.5;

    // Another spread and other habits than usual must explain the taps so much better, in nats, or the plain reading stays: a few random
    // deviations never change it.
    private const double Hysteresis = 6;

    // A rival this close, in nats, makes a tap unsure: it is at most seven times less likely.
    private const double UnsureWithin = 2;

    // From this length on, in whole notes, a unit is also divided into quarters.
    private const double LongUnit = 0.25;

    private static readonly double[] Spreads = [0.012, 0.015, 0.02, 0.025, 0.031];

    private static readonly (int Division, double Cost)[] Divisions = [(1, 0), (2, 2), (Three, 3.5), (4, 7)];

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

        var states = States(taps, units);
        Path? plain = null;
        for (var step = -LatenessSteps / 2; step <= LatenessSteps / 2; step++)
        {
            plain = Better(plain, Path.Find(taps, states, new Player(step * MostLateness * 2 / LatenessSteps, Spread, null)));
        }

        if (plain is null)
        {
            return null;
        }

        plain = InMean(plain, taps, states);
        Path? other = null;
        foreach (var habits in new[] { Habits.None, Habits.Halves, Habits.Threes, Habits.Halves | Habits.Threes })
        {
            foreach (var spread in Spreads)
            {
                other = Better(other, Path.Find(taps, states, new Player(plain.Player.Lateness, spread, habits)));
            }
        }

        other = other is null ? null : InMean(other, taps, states);
        var best = other is not null && other.Cost + Hysteresis < Spreads.Min(plain.CostAt) ? other : plain;
        return new TappedGrid([.. best.States.Select(state => state.Place)], best.Errors, best.Unsure(), best.Player.Lateness);
    }

    private static Path? Better(Path? best, Path? tried) => tried is not null && (best is null || tried.Cost < best.Cost) ? tried : best;

    // With the mean of the deviations as lateness, and the usual lateness of players as one more observation.
    private static Path InMean(Path path, IReadOnlyList<GridTap> taps, State[][] states)
    {
        var notes = Enumerable.Range(0, taps.Count).Where(i => !taps[i].EndsNote).ToList();
        var weight = path.Player.Spread * path.Player.Spread / (LatenessSpread * LatenessSpread);
        var mean = notes.Sum(i => path.Errors[i] + path.Player.Lateness) / (notes.Count + weight);
        return Better(path, Path.Find(taps, states, path.Player with { Lateness = mean }))!;
    }

    // For each tap the places of the units around it, with all their divisions.
    private static State[][] States(IReadOnlyList<GridTap> taps, IReadOnlyList<GridUnit> units)
    {
        var all = new State[taps.Count][];
        var near = 0;
        for (var i = 0; i < taps.Count; i++)
        {
            var tap = taps[i];
            while (near + 1 < units.Count && units[near + 1].Start.Wholes.ToDouble() <= tap.At)
            {
                near++;
            }

            var states = new List<State>();
            for (var u = Math.Max(0, near - 1); u <= Math.Min(units.Count - 1, near + 2); u++)
            {
                var seconds = units[u].Length.Wholes.ToDouble() * tap.SecondsPerWhole;
                foreach (var (division, _) in Divisions)
                {
                    if ((division == 1 || seconds / division >= ShortestStep) && (division <= Three || units[u].Length.Wholes.ToDouble() >= LongUnit) && (!tap.EndsNote || division <= 2))
                    {
                        Add(u, 1, division, seconds);
                    }
                }

                if (units[u].BeginsPair && u + 1 < units.Count && !tap.EndsNote && 2 * seconds / Three >= ShortestStep)
                {
                    Add(u, 2, Three, seconds);
                }
            }

            all[i] = [.. states];

            void Add(int u, int count, int division, double seconds)
            {
                for (var step = 0; step < division; step++)
                {
                    var place = units[u].Start + (units[u].Length * new Rational(step * count, division));
                    states.Add(new State(u, count, division, step, place, (tap.At - place.Wholes.ToDouble()) * tap.SecondsPerWhole, seconds));
                }
            }
        }

        return all;
    }

    // The divisions that a section uses.
    [Flags]
    private enum Habits
    {
        None = 0,
        Halves = 1,
        Threes = 2,
    }

    // How someone plays: the mean lateness and the spread of the taps in seconds, and the divisions of the section; without these no triplet is
    // over two units.
    private readonly record struct Player(double Lateness, double Spread, Habits? Habits)
    {
        /// <summary>How unlikely such a player is.</summary>
        public double Cost(int notes)
        {
            var usual = UsualSpread / Spread;
            return (Lateness * Lateness / (2 * LatenessSpread * LatenessSpread)) + ((notes + SpreadWeight) * Math.Log(Spread)) + (SpreadWeight * usual * usual / 2)
                + (HabitCost * System.Numerics.BitOperations.PopCount((uint)(Habits ?? TappedGrid.Habits.None)));
        }

        /// <summary>The price of a place's division.</summary>
        public double Price(State state)
        {
            if (state.Units > 1)
            {
                // As much as halves in both units.
                var halves = 2 * (Divisions[1].Cost + Fast(state.Seconds / 2));
                return Habits is not { } habits ? double.PositiveInfinity : habits.HasFlag(TappedGrid.Habits.Threes) ? halves * HabitPart : halves;
            }

            if (state.Division == 1)
            {
                return 0;
            }

            var price = Divisions[state.Division - 1].Cost + Fast(state.Seconds / state.Division);
            return Habits?.HasFlag(state.Division == Three ? TappedGrid.Habits.Threes : TappedGrid.Habits.Halves) == true ? price * HabitPart : price;
        }

        /// <summary>How unlikely a deviation is, in seconds without the mean lateness.</summary>
        public double Fit(double error, bool endsNote)
        {
            var deviations = Math.Abs(error) / (endsNote ? EndSpread : Spread);
            return deviations <= Outlier ? deviations * deviations / 2 : Outlier * (deviations - (Outlier / 2));
        }

        private static double Fast(double step) => FastCost * Math.Max(0, FastStep - step);
    }

    // A place of a tap, in one unit with a division or in two with a triplet; how late the tap is for it; and how long a unit lasts, in seconds.
    private readonly record struct State(int Unit, int Units, int Division, int Step, Span Place, double Late, double Seconds)
    {
        // Every note of a triplet over two units must be tapped.
        public bool MayBegin => Units == 1 || Step == 0;

        public bool MayEnd => Units == 1 || Step == Division - 1;
    }

    private sealed class Path(State[][] all, double[][] fit, double[][] forward, int[] chosen, Player player, IReadOnlyList<GridTap> taps)
    {
        private readonly int _notes = taps.Count(tap => !tap.EndsNote);

        public double Cost { get; } = forward[^1][chosen[^1]] + player.Cost(taps.Count(tap => !tap.EndsNote));

        public Player Player => player;

        public double[] Errors { get; } = [.. chosen.Select((state, i) => all[i][state].Late - player.Lateness)];

        public IEnumerable<State> States => chosen.Select((state, i) => all[i][state]);

        /// <summary>What the same places cost for a player with another spread.</summary>
        public double CostAt(double spread)
        {
            var other = player with { Spread = spread };
            return forward[^1][chosen[^1]] + Enumerable.Range(0, taps.Count).Sum(i => other.Fit(Errors[i], taps[i].EndsNote) - fit[i][chosen[i]]) + other.Cost(_notes);
        }

        public static Path? Find(IReadOnlyList<GridTap> taps, State[][] all, Player player)
        {
            var forward = new double[taps.Count][];
            var fit = new double[taps.Count][];
            var from = new int[taps.Count][];
            for (var i = 0; i < taps.Count; i++)
            {
                forward[i] = new double[all[i].Length];
                fit[i] = new double[all[i].Length];
                from[i] = new int[all[i].Length];
                for (var s = 0; s < all[i].Length; s++)
                {
                    var state = all[i][s];
                    fit[i][s] = player.Fit(state.Late - player.Lateness, taps[i].EndsNote);
                    forward[i][s] = i == 0 && state.MayBegin ? fit[i][s] + player.Price(state) : double.PositiveInfinity;
                    var price = player.Price(state);
                    for (var p = 0; i > 0 && p < all[i - 1].Length; p++)
                    {
                        var total = forward[i - 1][p] + Step(all[i - 1][p], state, price, taps[i - 1].EndsNote && !taps[i].EndsNote) + fit[i][s];
                        if (total < forward[i][s])
                        {
                            (forward[i][s], from[i][s]) = (total, p);
                        }
                    }
                }
            }

            var last = Least(forward[^1], all[^1]);
            if (last < 0)
            {
                return null;
            }

            var chosen = new int[taps.Count];
            for (var i = taps.Count - 1; i >= 0; i--)
            {
                (chosen[i], last) = (last, from[i][last]);
            }

            return new Path(all, fit, forward, chosen, player, taps);
        }

        public List<int> Unsure()
        {
            var unsure = new List<int>();
            var best = forward[^1][chosen[^1]];
            var backward = all[^1].Select(state => state.MayEnd ? 0 : double.PositiveInfinity).ToArray();
            for (var i = all.Length - 1; i >= 0; i--)
            {
                var place = all[i][chosen[i]].Place;
                var rival = double.PositiveInfinity;
                for (var s = 0; s < all[i].Length; s++)
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

                var before = new double[all[i - 1].Length];
                Array.Fill(before, double.PositiveInfinity);
                for (var s = 0; s < all[i].Length; s++)
                {
                    var price = player.Price(all[i][s]);
                    for (var p = 0; p < before.Length; p++)
                    {
                        before[p] = Math.Min(before[p], backward[s] + fit[i][s] + Step(all[i - 1][p], all[i][s], price, taps[i - 1].EndsNote && !taps[i].EndsNote));
                    }
                }

                backward = before;
            }

            return unsure;
        }

        // From one tap to the next; infinite if that is not possible.
        private static double Step(State before, State after, double price, bool mayBeEqual)
        {
            if (after.Unit == before.Unit && after.Units == before.Units)
            {
                return after.Division == before.Division
                    && (after.Units > 1 ? after.Step == before.Step + 1 : after.Step > before.Step || (mayBeEqual && after.Step == before.Step))
                    ? 0 : double.PositiveInfinity;
            }

            return after.Unit < before.Unit + before.Units || !before.MayEnd || !after.MayBegin ? double.PositiveInfinity
                : price + (before.Division > 1 && after.Division > 1 && before.Division == Three != (after.Division == Three) ? SwitchCost : 0);
        }

        private static int Least(double[] costs, State[] states)
        {
            var least = -1;
            for (var s = 0; s < costs.Length; s++)
            {
                least = states[s].MayEnd && !double.IsPositiveInfinity(costs[s]) && (least < 0 || costs[s] < costs[least]) ? s : least;
            }

            return least;
        }
    }
}
