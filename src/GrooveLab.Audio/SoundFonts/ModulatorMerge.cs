using NAudio.SoundFont;
using BankModulator = NAudio.SoundFont.Modulator;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>Merges default, instrument and preset modulators (SoundFont 2.04, section 9.5).</summary>
internal static class ModulatorMerge
{
    /// <summary>
    /// An instrument's modulator replaces a default one of the same route, and a later one an earlier one; a preset's modulator adds its amount.
    /// </summary>
    public static Modulator[] Merge(IReadOnlyList<BankModulator>? instrument, IReadOnlyList<BankModulator>? preset)
    {
        var merged = new List<Modulator>(DefaultModulators.All);
        foreach (var modulator in Valid(instrument))
            Replace(merged, modulator);

        var offsets = new List<Modulator>();
        foreach (var modulator in Valid(preset))
            Replace(offsets, modulator);
        foreach (var offset in offsets)
        {
            var at = merged.FindIndex(m => m.IsSameRoute(offset));
            if (at < 0)
                merged.Add(offset);
            else
                merged[at] = merged[at] with { Amount = merged[at].Amount + offset.Amount };
        }
        merged.RemoveAll(m => m.Amount == 0);
        return [.. merged];
    }

    private static void Replace(List<Modulator> list, Modulator modulator)
    {
        var at = list.FindIndex(m => m.IsSameRoute(modulator));
        if (at < 0)
            list.Add(modulator);
        else
            list[at] = modulator;
    }

    /// <summary>Leaves out modulators that the specification does not define, as section 9.5.4 requires.</summary>
    private static IEnumerable<Modulator> Valid(IReadOnlyList<BankModulator>? modulators)
    {
        foreach (var m in modulators ?? [])
        {
            if (m is not { SourceModulationData: not null, SourceModulationAmount: not null })
                continue;
            var source = new ModulatorSource(m.SourceModulationData.RawValue);
            var amountSource = new ModulatorSource(m.SourceModulationAmount.RawValue);
            if (!source.IsValid || !amountSource.IsValid || !IsDestination(m.DestinationGenerator))
                continue;
            if (m.SourceTransform is not (TransformEnum.Linear or TransformEnum.AbsoluteValue))
                continue;
            yield return new Modulator(
                source, amountSource, m.DestinationGenerator, m.Amount, m.SourceTransform == TransformEnum.AbsoluteValue);
        }
    }

    /// <summary>True for value generators only: a modulator cannot change an address, a range or an index (section 8.1.2).</summary>
    public static bool IsDestination(GeneratorEnum generator) => generator is
        GeneratorEnum.ModulationLFOToPitch or GeneratorEnum.VibratoLFOToPitch or GeneratorEnum.ModulationEnvelopeToPitch
        or GeneratorEnum.InitialFilterCutoffFrequency or GeneratorEnum.InitialFilterQ
        or GeneratorEnum.ModulationLFOToFilterCutoffFrequency or GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency
        or GeneratorEnum.ModulationLFOToVolume
        or (>= GeneratorEnum.ChorusEffectsSend and <= GeneratorEnum.Pan)
        or (>= GeneratorEnum.DelayModulationLFO and <= GeneratorEnum.KeyNumberToVolumeEnvelopeDecay)
        or GeneratorEnum.InitialAttenuation or GeneratorEnum.CoarseTune or GeneratorEnum.FineTune or GeneratorEnum.ScaleTuning;
}
