namespace GrooveLab.Music.Ensemble;

/// <summary>Random numbers without a sequence: each depends only on where it is requested, so that bar 40 is the same whether or not bar
/// 39 was composed.</summary>
/// <remarks>The mixing function is the finaliser of SplitMix64 (Steele, Lea and Flood 2014).</remarks>
internal readonly struct Chance
{
    private readonly ulong _state;

    private Chance(ulong state) => _state = state;

    public static Chance From(ulong seed) => new(Mix(seed));

    /// <summary>The chance for a nested key: a part, a bar, a step, a purpose.</summary>
    public Chance At(long place) => new(Mix(unchecked(_state ^ ((ulong)place * 0x9E3779B97F4A7C15UL) ^ 0xD1B54A32D192ED03UL)));

    /// <summary>The chance for a nested key given as a word.</summary>
    public Chance For(string word)
    {
        var chance = this;
        foreach (var letter in word)
        {
            chance = chance.At(letter);
        }

        return chance;
    }

    /// <summary>Uniform from 0 to 1, exclusive.</summary>
    public double Unit => (_state >> 11) * (1.0 / (1UL << 53));

    /// <summary>Uniform from 0 to <paramref name="count"/>, exclusive.</summary>
    public int Below(int count) => (int)(Unit * count);

    /// <summary>True with that probability.</summary>
    public bool Happens(double share) => Unit < share;

    /// <summary>A normally distributed number with mean 0 and standard deviation 1 (Box and Muller 1958).</summary>
    public double Normal()
    {
        var radius = Math.Sqrt(-2 * Math.Log(1 - Unit));
        return radius * Math.Cos(2 * Math.PI * At(1).Unit);
    }

    private static ulong Mix(ulong x)
    {
        unchecked
        {
            x += 0x9E3779B97F4A7C15UL;
            x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9UL;
            x = (x ^ (x >> 27)) * 0x94D049BB133111EBUL;
            return x ^ (x >> 31);
        }
    }
}
