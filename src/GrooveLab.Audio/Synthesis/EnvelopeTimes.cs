using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>The stages of an envelope in frames (SoundFont 2.04, 8.1.3, generators 25-40).</summary>
/// <param name="Delay">From key-on to the attack.</param>
/// <param name="Attack">From nothing to full level.</param>
/// <param name="Hold">At full level.</param>
/// <param name="Decay">For a change of 100 %, whatever part of it the sustain level lets happen.</param>
/// <param name="Release">For a change of 100 %.</param>
internal readonly record struct EnvelopeTimes(int Delay, int Attack, int Hold, int Decay, int Release)
{
    // The least legal time is 1 ms, and the default. Every delay and hold would be at least that, and every note late by it;
    // the section calls the default "no delay", so the least value means none.
    private const float NoTime = -12000;

    /// <summary>Works out the stages.</summary>
    /// <param name="amounts">All generators, modulated.</param>
    /// <param name="delay">The number of the delay generator; attack, hold, decay, sustain, release and the key scalings follow it.</param>
    /// <param name="key">The key, which shortens or lengthens hold and decay around key 60.</param>
    /// <param name="sampleRate">Frames a second.</param>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public static EnvelopeTimes From(ReadOnlySpan<float> amounts, NAudio.SoundFont.GeneratorEnum delay, int key, int sampleRate)
    {
        var first = (int)delay;
        var keyOffset = 60 - key;
        return new EnvelopeTimes(
            WaitFrames(Amount(amounts, first), sampleRate),
            Frames(Amount(amounts, first + 1), sampleRate),
            WaitFrames(Scaled(amounts, first + 2, first + 6, keyOffset), sampleRate),
            Frames(Scaled(amounts, first + 3, first + 7, keyOffset), sampleRate),
            Frames(Amount(amounts, first + 5), sampleRate));
    }

    private static float Amount(ReadOnlySpan<float> amounts, int generator) =>
        GeneratorRange.Of((NAudio.SoundFont.GeneratorEnum)generator).Clamp(amounts[generator]);

    private static float Scaled(ReadOnlySpan<float> amounts, int generator, int scaling, int keyOffset) =>
        GeneratorRange.Of((NAudio.SoundFont.GeneratorEnum)generator).Clamp(amounts[generator] + (Amount(amounts, scaling) * keyOffset));

    private static int WaitFrames(float timecents, int sampleRate) => timecents <= NoTime ? 0 : Frames(timecents, sampleRate);

    private static int Frames(float timecents, int sampleRate) => (int)Math.Round(Units.Seconds(timecents) * sampleRate);
}
