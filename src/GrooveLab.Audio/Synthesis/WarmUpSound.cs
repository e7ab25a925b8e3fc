using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A sound with every feature that presets can have, whatever the loaded bank has: samples without a loop and with either kind of loop, a
/// filter, and envelopes and oscillators that change pitch, filter and level. Only the warm-up plays it.
/// </summary>
internal static class WarmUpSound
{
    private const int Points = 400;
    private const int LoopStart = 40;
    private const int LoopEnd = 340;

    public static ResolvedPreset Make()
    {
        // Vectors are read past the last point.
        var points = GC.AllocateArray<short>(Points + 16, pinned: true);
        for (var i = 0; i < Points; i++)
            points[i] = (short)(((i * 37) & 0x3fff) - 0x2000);
        var pool = new SamplePool(points, lowBits: null, first: 0, Points);
        return new ResolvedPreset(
            new SoundFontPreset(0, 0, 0, "warm-up"),
            [
                Region(pool, LoopMode.Continuous, isMoving: true),
                Region(pool, LoopMode.UntilRelease, isMoving: false),
                Region(pool, LoopMode.None, isMoving: true),
                Region(pool, LoopMode.None, isMoving: false),
            ]);
    }

    private static Region Region(SamplePool pool, LoopMode mode, bool isMoving)
    {
        var generators = new float[GeneratorRange.Count];
        for (var i = 0; i < generators.Length; i++)
            generators[i] = GeneratorRange.Of((GeneratorEnum)i).Default;
        // A few milliseconds each, so that every stage starts and ends.
        foreach (var stage in new[]
        {
            GeneratorEnum.DelayVolumeEnvelope, GeneratorEnum.AttackVolumeEnvelope, GeneratorEnum.HoldVolumeEnvelope,
            GeneratorEnum.DecayVolumeEnvelope, GeneratorEnum.ReleaseVolumeEnvelope,
        })
        {
            generators[(int)stage] = -9000;
        }
        generators[(int)GeneratorEnum.SustainVolumeEnvelope] = 60;
        if (isMoving)
        {
            generators[(int)GeneratorEnum.InitialFilterCutoffFrequency] = 9000;
            generators[(int)GeneratorEnum.InitialFilterQ] = 40;
            generators[(int)GeneratorEnum.ModulationLFOToPitch] = 20;
            generators[(int)GeneratorEnum.VibratoLFOToPitch] = 20;
            generators[(int)GeneratorEnum.ModulationEnvelopeToPitch] = 100;
            generators[(int)GeneratorEnum.ModulationLFOToFilterCutoffFrequency] = 300;
            generators[(int)GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency] = 900;
            generators[(int)GeneratorEnum.ModulationLFOToVolume] = 20;
        }
        return new Region
        {
            LowKey = 0,
            HighKey = 127,
            LowVelocity = 0,
            HighVelocity = 127,
            Generators = generators,
            Modulators = ModulatorMerge.Merge([], []),
            Pool = pool,
            Start = 0,
            End = Points,
            LoopStart = LoopStart,
            LoopEnd = LoopEnd,
            LoopMode = mode,
            IsSeamless = false,
            Seam = null,
            SampleRate = 44_100,
            RootKey = 60,
            PitchCorrection = 0,
            ExclusiveClass = 1,
            KeyOverride = -1,
            VelocityOverride = -1,
        };
    }
}
