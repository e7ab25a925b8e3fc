namespace GrooveLab.SameMusic.Charts;

/// <summary>A small random number generator (SplitMix64, Steele, Lea and Flood 2014): the same random seed gives the same numbers on
/// every runtime, so that a number identifies a chart.</summary>
internal sealed class Chance(ulong seed)
{
    private ulong _state = seed;

    /// <summary>A whole number from <paramref name="from"/> to <paramref name="to"/>, both included.</summary>
    public int Whole(int from, int to) => from + (int)(Next() % (ulong)(to - from + 1));

    /// <summary>True with a probability in percent.</summary>
    public bool Percent(int percent) => Whole(1, 100) <= percent;

    /// <summary>One of the items.</summary>
    public T Pick<T>(params IReadOnlyList<T> from) => from[Whole(0, from.Count - 1)];

    private ulong Next()
    {
        unchecked
        {
            _state += 0x9E3779B97F4A7C15;
            var z = _state;
            z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
            z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
            return z ^ (z >> 31);
        }
    }
}
