namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One zone of a preset or an instrument: ranges, generators, modulators.</summary>
/// <remarks>A zone without a target is a global zone and must come first in its list (sections 7.3 and 7.7).</remarks>
/// <typeparam name="TTarget">The zone's target: an instrument or a sample.</typeparam>
public sealed class SoundFontZone<TTarget>
    where TTarget : class
{
    /// <summary>The instrument or sample; null in a global zone.</summary>
    public TTarget? Target { get; init; }

    /// <summary>Keys, inclusive; null for all.</summary>
    public (int Low, int High)? Keys { get; init; }

    /// <summary>Velocities, inclusive; null for all.</summary>
    public (int Low, int High)? Velocities { get; init; }

    /// <summary>Generators in the order of writing, without ranges and links.</summary>
    public IList<KeyValuePair<SoundFontGenerator, short>> Generators { get; } = [];

    /// <summary>Modulators in the order of writing.</summary>
    public IList<SoundFontModulator> Modulators { get; } = [];

    /// <summary>Adds a generator, clamped to 16 bits, and returns the zone.</summary>
    /// <param name="generator">The generator.</param>
    /// <param name="amount">The amount in the generator's unit; rounded to a whole number.</param>
    public SoundFontZone<TTarget> With(SoundFontGenerator generator, double amount)
    {
        Generators.Add(new(generator, (short)Math.Clamp(Math.Round(amount), short.MinValue, short.MaxValue)));
        return this;
    }
}
