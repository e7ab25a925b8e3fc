using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>The stages of an envelope in frames (SoundFont 2.04, 8.1.3, generators 25-40).</summary>
/// <param name="Delay">From key-on to the attack.</param>
/// <param name="Attack">From zero to full level.</param>
/// <param name="Hold">Time at full level.</param>
/// <param name="Decay">Time for a change of 100 %, even if the sustain level ends it earlier.</param>
/// <param name="Release">Time for a change of 100 %.</param>
internal readonly record struct EnvelopeTimes(int Delay, int Attack, int Hold, int Decay, int Release)
{
    // The shortest legal time, 1 ms, is also the default. Every delay and hold would last at least that long and make every note late;
    // the section calls the default "no delay", so the shortest value means none.
    private const float NoTime = -12000;

    /// <summary>Computes the stages.</summary>
    /// <param name="amounts">All generators, modulated.</param>
    /// <param name="delay">The number of the delay generator; attack, hold, decay, sustain, release and the key scalings follow it.</param>
    /// <param name="key">The key, which shortens or lengthens hold and decay relative to key 60.</param>
    /// <param name="sampleRate">Sample rate in Hz.</param>
    [MethodImpl(HotCode.Compiled)]
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
