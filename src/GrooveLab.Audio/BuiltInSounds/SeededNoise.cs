namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>White noise, the same for the same seed on every runtime (SplitMix64, Steele, Lea and Flood 2014).</summary>
internal sealed class SeededNoise(ulong seed)
{
    private ulong _state = seed;

    /// <summary>The next value, uniform between -1 and 1, mean square 1/3.</summary>
    public double Next()
    {
        unchecked
        {
            _state += 0x9E3779B97F4A7C15UL;
            var z = _state;
            z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9UL;
            z = (z ^ (z >> 27)) * 0x94D049BB133111EBUL;
            z ^= z >> 31;
            return ((z >> 11) * (2.0 / (1UL << 53))) - 1;
        }
    }
}
