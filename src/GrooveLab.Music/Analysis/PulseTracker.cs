namespace GrooveLab.Music.Analysis;

/// <summary>Follows a regular pulse through onsets whose tempo drifts. Of all series of pulses whose period changes little from one to the
/// next, it finds the one that meets most onsets, by dynamic programming over the time and the period of each pulse.</summary>
/// <remarks>Time and memory are proportional to the number of pulses plus the number of onsets.</remarks>
internal static class PulseTracker
{
    /// <summary>Maximum number of pulses of one series: two hours of eight a second.</summary>
    public const int MostPulses = 60_000;

    // The time step is this part of the middle period; the periods are whole numbers of steps.
    private const int Steps = 48;
    private const int Shortest = 38;
    private const int Longest = 60;
    private const int Periods = Longest - Shortest + 1;
    private const int MostChange = 2;

    // A change of period by one step, 2 %, from one pulse to the next costs as much as this share of a missed onset.
    private const double ChangeCost = 0.35;

    /// <summary>The pulses.</summary>
    /// <param name="onsets">The onsets in seconds, ascending; at least one.</param>
    /// <param name="period">The middle of the accepted periods, in seconds; from 0.79 to 1.25 of it are accepted.</param>
    /// <param name="spread">How far players are usually from the pulse: a standard deviation in seconds.</param>
    /// <returns>Times in seconds, ascending, from at most one period before the first onset to at most one behind the last; empty when
    /// there would be too many.</returns>
    public static double[] Track(ReadOnlySpan<double> onsets, double period, double spread)
    {
        var step = period / Steps;
        var origin = onsets[0] - (Longest * step);
        var frames = ((onsets[^1] - onsets[0]) / step) + (2 * Longest) + 2;
        if (frames > (double)MostPulses * Steps)
        {
            return [];
        }

        var reward = Reward(onsets, origin, step, (int)frames, spread);
        return Best(reward, origin, step);
    }

    private static float[] Reward(ReadOnlySpan<double> onsets, double origin, double step, int frames, double spread)
    {
        var reward = new float[frames];
        var reach = Math.Max(1, (int)Math.Ceiling(3 * spread / step));
        foreach (var onset in onsets)
        {
            var place = (onset - origin) / step;
            var middle = (int)Math.Round(place);
            for (var t = Math.Max(0, middle - reach); t <= Math.Min(frames - 1, middle + reach); t++)
            {
                var away = (t - place) * step / spread;
                reward[t] += (float)Math.Exp(-0.5 * away * away);
            }
        }

        var sum = 0.0;
        for (var t = 0; t < frames; t++)
        {
            // The second note at one place tells less than the first.
            reward[t] = MathF.Log(1 + reward[t]);
            sum += reward[t];
        }

        // A pulse at a random place is neither gain nor loss.
        var mean = (float)(sum / frames);
        for (var t = 0; t < frames; t++)
        {
            reward[t] -= mean;
        }

        return reward;
    }

    private static double[] Best(float[] reward, double origin, double step)
    {
        var frames = reward.Length;
        // Only the last steps are looked back at.
        const int Ring = 64;
        var total = new float[Ring * Periods];
        var from = new sbyte[frames * Periods];
        Span<float> cost = stackalloc float[MostChange + 1];
        for (var change = 0; change <= MostChange; change++)
        {
            cost[change] = (float)(ChangeCost * change * change);
        }

        for (var t = 0; t < frames; t++)
        {
            for (var p = 0; p < Periods; p++)
            {
                var before = t - Shortest - p;
                var (best, change) = (0f, (sbyte)MostChange);
                if (before >= 0)
                {
                    best = float.NegativeInfinity;
                    for (var q = Math.Max(0, p - MostChange); q <= Math.Min(Periods - 1, p + MostChange); q++)
                    {
                        var value = total[(before % Ring * Periods) + q] - cost[Math.Abs(p - q)];
                        if (value > best)
                        {
                            (best, change) = (value, (sbyte)(q - p));
                        }
                    }
                }

                total[(t % Ring * Periods) + p] = best + reward[t];
                from[(t * Periods) + p] = before >= 0 ? change : sbyte.MaxValue;
            }
        }

        var (at, period) = (frames - 1, 0);
        for (var t = frames - Longest; t < frames; t++)
        {
            for (var p = 0; p < Periods; p++)
            {
                if (total[(t % Ring * Periods) + p] > total[(at % Ring * Periods) + period])
                {
                    (at, period) = (t, p);
                }
            }
        }

        var pulses = new List<double>();
        while (true)
        {
            pulses.Add(origin + (at * step));
            var change = from[(at * Periods) + period];
            if (change == sbyte.MaxValue)
            {
                break;
            }

            (at, period) = (at - Shortest - period, period + change);
        }

        pulses.Reverse();
        return [.. pulses];
    }
}
