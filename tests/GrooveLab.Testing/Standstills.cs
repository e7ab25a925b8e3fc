namespace GrooveLab.Testing;

/// <summary>Separates the machine's delays from the program's: when the audio thread came later than the device's buffer lasts, would it
/// have been in time without the machine's own standstills?</summary>
public static class Standstills
{
    private const int Aftermath = 4;

    /// <summary>Judges the absences of the audio thread.</summary>
    /// <param name="away">Start and end of each absence, in any unit.</param>
    /// <param name="still">Start and end of each standstill of the machine, in the same unit; cores separately or together, in any
    /// order.</param>
    /// <param name="patience">The longest absence before the buffer is empty.</param>
    /// <returns>The number of longer absences, and how many of these would have been too long even without the standstills. Absences
    /// within a few buffer lengths after an emptied buffer (the device restarts, and waits until it is full) belong to what emptied
    /// it.</returns>
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

    // Overlaps count once.
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
