using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>Turns a parsed region into a playable one: amounts in range, addresses inside the sample chunk.</summary>
internal static class RegionBuilder
{
    // Section 7.10: 255 means an unpitched sample, 128-254 are illegal; both play as if recorded at middle C.
    private const int UnpitchedKey = 60;
    private const float MostAttenuation = 1440;

    /// <summary>Builds a region, with its points in memory.</summary>
    /// <param name="parsed">The region from the resolver.</param>
    /// <param name="store">The bank's samples.</param>
    /// <param name="isCompressed">Whether its sample is a Vorbis stream, whose loop counts from its own start.</param>
    /// <param name="attenuationShare">The share of initial attenuation to apply, 0-1.</param>
    public static Region Build(SoundFontRegion parsed, SampleStore store, bool isCompressed, float attenuationShare)
    {
        var sample = parsed.Sample;
        var given = parsed.Generators;
        var generators = new float[GeneratorRange.Count];
        for (var i = 0; i < generators.Length; i++)
            generators[i] = GeneratorRange.Of((GeneratorEnum)i).Clamp(given[(GeneratorEnum)i]);
        // The zones may sum to less than 0: the range holds for the whole attenuation, with that of velocity and controllers.
        generators[(int)GeneratorEnum.InitialAttenuation] = Math.Min((float)given[GeneratorEnum.InitialAttenuation], MostAttenuation) * attenuationShare;

        var pool = isCompressed ? store.Decoded(sample.Start, sample.End, SoundFontBank.Printable(sample.SampleName)) : null;
        var poolSize = pool?.Count ?? store.Count;
        var start = Address(pool is null ? sample.Start : 0, given.StartAddressOffset, 0, poolSize);
        var end = Address(pool is null ? sample.End : (uint)poolSize, given.EndAddressOffset, start, poolSize);
        var loopStart = Address(sample.StartLoop, given.StartLoopAddressOffset, 0, poolSize);
        var loopEnd = Address(sample.EndLoop, given.EndLoopAddressOffset, 0, poolSize);
        // A loop of less than two points, or one that reaches outside its sample, is invalid: the sample plays once.
        var loops = loopStart >= start && loopEnd <= end && loopEnd - loopStart >= 2;
        if (!loops)
            (loopStart, loopEnd) = (start, end);

        // Regions that play parts of one sample share its points.
        pool ??= store.Points((int)Math.Min(sample.Start, start), (int)Math.Max(sample.End, end));
        start -= pool.First;
        end -= pool.First;
        loopStart -= pool.First;
        loopEnd -= pool.First;

        var isSeamless = loops && IsSeamless(pool, start, loopStart, loopEnd);

        return new Region
        {
            LowKey = parsed.LowKey,
            HighKey = parsed.HighKey,
            LowVelocity = parsed.LowVelocity,
            HighVelocity = parsed.HighVelocity,
            Generators = generators,
            Modulators = ModulatorMerge.Merge(parsed.InstrumentModulators, parsed.PresetModulators),
            Pool = pool,
            Start = start,
            End = end,
            LoopStart = loopStart,
            LoopEnd = loopEnd,
            LoopMode = !loops ? LoopMode.None : ((int)given[GeneratorEnum.SampleModes] & 3) switch
            {
                1 => LoopMode.Continuous,
                3 => LoopMode.UntilRelease,
                _ => LoopMode.None,
            },
            IsSeamless = isSeamless,
            Seam = loops && !pool.IsDeep && loopEnd - loopStart >= Synthesis.SampleCursor.SeamReach ? Seam(pool, loopStart, loopEnd) : null,
            SampleRate = (int)sample.SampleRate,
            RootKey = RootKey(given, sample),
            PitchCorrection = sample.PitchCorrection,
            ExclusiveClass = (int)generators[(int)GeneratorEnum.ExclusiveClass],
            KeyOverride = (int)generators[(int)GeneratorEnum.KeyNumber],
            VelocityOverride = (int)generators[(int)GeneratorEnum.Velocity],
        };
    }

    private static bool IsSeamless(SamplePool pool, int start, int loopStart, int loopEnd)
    {
        // The reach of the widest interpolation to either side, plus one for rounding.
        const int Reach = 5;
        if (loopStart - Reach < start || loopEnd + Reach > pool.Count)
            return false;
        for (var i = -Reach; i < Reach; i++)
        {
            if (pool[loopStart + i] != pool[loopEnd + i])
                return false;
        }
        return true;
    }

    private static unsafe short[] Seam(SamplePool pool, int loopStart, int loopEnd)
    {
        const int Reach = Synthesis.SampleCursor.SeamReach;
        var seam = GC.AllocateArray<short>(2 * Reach, pinned: true);
        for (var i = 0; i < Reach; i++)
        {
            seam[Reach + i] = pool.High[loopStart + i];
            seam[Reach - 1 - i] = pool.High[loopEnd - 1 - i];
        }
        pool.KeepAlive();
        return seam;
    }

    private static int RootKey(SoundFontGenerators given, SampleHeader sample)
    {
        var key = (int)given[GeneratorEnum.OverridingRootKey];
        if (key is >= 0 and <= 127)
            return key;
        return sample.OriginalPitch <= 127 ? sample.OriginalPitch : UnpitchedKey;
    }

    private static int Address(uint header, int offset, int least, int greatest) =>
        (int)Math.Clamp((long)header + offset, least, greatest);
}
