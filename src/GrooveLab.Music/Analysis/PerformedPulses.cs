namespace GrooveLab.Music.Analysis;

/// <summary>The pulses of a performance, and the places of its onsets on them.</summary>
/// <param name="Times">The pulses in seconds, ascending; the first onset is on the first one or between it and the second.</param>
/// <param name="Places">For each onset its place in twelfths of pulses from the first pulse.</param>
/// <param name="Errors">For each onset its distance from its place in seconds; late is positive.</param>
/// <param name="Score">How much better the pulses explain the onsets than chance does, in nats an onset.</param>
internal sealed record PerformedPulses(double[] Times, int[] Places, double[] Errors, double Score)
{
    // Periods of candidate pulses in seconds: from the fastest that several players keep together to the slowest that is felt as a pulse.
    private const double Fastest = 0.085;
    private const double Slowest = 0.85;
    private const double Ratio = 1.25;

    // Where the players are before anything is known of them; ensembles are 30 to 50 ms apart (Rasch 1979, from a thesis that quotes it).
    private const double UsualSpread = 0.02;
    private const double LeastSpread = 0.004;
    private const double MostSpread = 0.04;

    // The period's relative change a second, as a standard deviation.
    private const double ChangeInASecond = 0.03;
    private const int Rounds = 4;
    private const double Stray = 0.03;
    private const double SamePeriod = 0.1;

    // The candidates are compared on the beginning of a long piece.
    private const int MostComparedOnsets = 12_000;
    private const double MostComparedSeconds = 400;

    /// <summary>Of two series of pulses that explain the onsets about equally well, the faster is the safer.</summary>
    public const double Margin = 0.12;

    /// <summary>The mean period in seconds.</summary>
    public double Period => (Times[^1] - Times[0]) / (Times.Length - 1);

    /// <summary>The candidates, each of another period, the fastest first.</summary>
    /// <param name="onsets">The onsets in seconds, ascending; at least two.</param>
    public static List<PerformedPulses> Candidates(ReadOnlySpan<double> onsets)
    {
        var compared = 0;
        while (compared < onsets.Length && compared < MostComparedOnsets && onsets[compared] - onsets[0] <= MostComparedSeconds)
        {
            compared++;
        }

        var found = new List<PerformedPulses>();
        for (var middle = Fastest; middle < Slowest; middle *= Ratio)
        {
            if (Of(onsets[..compared], middle) is not { } pulses)
            {
                continue;
            }

            // Neighbouring bands may find the same pulse, one of them with a slip.
            var same = found.FindIndex(one => Math.Abs((one.Period / pulses.Period) - 1) < SamePeriod);
            if (same < 0)
            {
                found.Add(pulses);
            }
            else if (pulses.Score > found[same].Score)
            {
                found[same] = pulses;
            }
        }

        return found;
    }

    /// <summary>Tracks, then fits the tempo curve and assigns the onsets in turn.</summary>
    /// <param name="onsets">The onsets in seconds, ascending; at least two.</param>
    /// <param name="middle">The middle of the accepted periods, in seconds.</param>
    /// <returns>Null when the onsets are too few or the music too long.</returns>
    public static PerformedPulses? Of(ReadOnlySpan<double> onsets, double middle)
    {
        var pulses = PulseTracker.Track(onsets, middle, UsualSpread);
        if (pulses.Length < 4)
        {
            return null;
        }

        var errors = new double[onsets.Length];
        var known = new (int, double, double)[onsets.Length];
        var costs = PulseGrid.FirstCosts;
        var spread = Math.Min(UsualSpread, middle / 8);
        int[] places = [];
        for (var round = 0; round <= Rounds; round++)
        {
            places = PulseGrid.Assign(pulses, onsets, spread, costs, errors);
            if (round == Rounds)
            {
                break;
            }

            for (var i = 0; i < onsets.Length; i++)
            {
                known[i] = (Math.Min(places[i] / PulseGrid.Fine, pulses.Length - 1), places[i] % PulseGrid.Fine / (double)PulseGrid.Fine, onsets[i]);
            }

            PulseCurve.Fit(pulses, known, spread, ChangeInASecond * Math.Sqrt(middle));
            spread = SpreadOf(errors, middle);
        }

        // The series begins with the pulse of the first onset.
        var skipped = places[0] / PulseGrid.Fine;
        for (var i = 0; i < places.Length; i++)
        {
            places[i] = Math.Max(0, places[i] - (skipped * PulseGrid.Fine));
        }

        pulses = pulses[Math.Min(skipped, pulses.Length - 2)..];
        return new PerformedPulses(pulses, places, errors, ScoreOf(pulses, places, errors, spread));
    }

    private static double SpreadOf(double[] errors, double middle)
    {
        // The median of the absolute distances, which strays do not move.
        var sizes = Array.ConvertAll(errors, Math.Abs);
        Array.Sort(sizes);
        return Math.Clamp(sizes[sizes.Length / 2] * 1.4826, LeastSpread, Math.Min(MostSpread, middle / 6));
    }

    private static double ScoreOf(double[] pulses, int[] places, double[] errors, double spread)
    {
        var shares = new double[PulseGrid.Fine];
        foreach (var place in places)
        {
            shares[place % PulseGrid.Fine] += 1.0 / places.Length;
        }

        var sum = 0.0;
        var peak = 1 / (spread * Math.Sqrt(2 * Math.PI));
        for (var i = 0; i < places.Length; i++)
        {
            var k = Math.Min(places[i] / PulseGrid.Fine, pulses.Length - 2);
            var away = errors[i] / spread;
            sum += Math.Log(((1 - Stray) * shares[places[i] % PulseGrid.Fine] * (pulses[k + 1] - pulses[k]) * peak * Math.Exp(-0.5 * away * away)) + Stray);
        }

        return sum / places.Length;
    }
}
