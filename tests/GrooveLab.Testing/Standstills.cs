namespace GrooveLab.Testing;

/// <summary>
/// Tells what the machine did from what the program did: when the audio thread came later than the device's buffer lasts, would it have
/// come in time but for the machine's own standstills within?
/// </summary>
public static class Standstills
{
    private const int Aftermath = 4;

    /// <summary>Judges the times at which the audio thread was away.</summary>
    /// <param name="away">From when to when, in any one unit.</param>
    /// <param name="still">When the machine stood still, in the same unit; cores one after the other or together, in any order.</param>
    /// <param name="patience">How long the thread may be away before the buffer is empty.</param>
    /// <returns>
    /// How often it was away for longer, and how often of these not without the standstills. What follows upon an emptied buffer within a few
    /// buffers' time (the device begins anew, and waits until it is full) belongs to what emptied it.
    /// </returns>
    public static (int Late, int Explained) Judge(
        IEnumerable<(long From, long To)> away, IEnumerable<(long From, long To)> still, long patience)
    {
        (long From, long To)[] ordered = [.. still.OrderBy(s => s.From)];
        var late = 0;
        var explained = 0;
        var over = long.MinValue;
        foreach ((var from, var to) in away.Where(a => a.To - a.From > patience).OrderBy(a => a.From))
        {
            if (over == long.MinValue || from - over > Aftermath * patience)
            {
                late++;
                explained += to - from - Within(ordered, (from, to)) <= patience ? 1 : 0;
            }

            over = to;
        }

        return (late, explained);
    }

    // What overlaps counts once.
    private static long Within((long From, long To)[] still, (long From, long To) away)
    {
        long all = 0;
        var reached = away.From;
        foreach ((var from, var to) in still)
        {
            var begin = Math.Max(from, reached);
            var end = Math.Min(to, away.To);
            if (end > begin)
            {
                all += end - begin;
                reached = end;
            }
        }

        return all;
    }
}
