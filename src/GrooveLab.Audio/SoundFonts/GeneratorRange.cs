using System.Runtime.CompilerServices;
using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>The least, greatest and default amount of a generator, in its own unit.</summary>
/// <param name="Minimum">Least amount.</param>
/// <param name="Maximum">Greatest amount.</param>
/// <param name="Default">The amount where no zone sets one.</param>
/// <remarks>SoundFont 2.04, section 8.1.3, table "Generator Summary".</remarks>
internal readonly record struct GeneratorRange(int Minimum, int Maximum, int Default)
{
    /// <summary>The number of generator numbers, including the unused ones.</summary>
    public const int Count = 61;

    private static readonly GeneratorRange[] Table = MakeTable();
    private static readonly float[] Minima = Array.ConvertAll(Table, range => (float)range.Minimum);
    private static readonly float[] Maxima = Array.ConvertAll(Table, range => (float)range.Maximum);

    /// <summary>The range of a generator; unused and index generators have the full range of 16 bits.</summary>
    public static GeneratorRange Of(GeneratorEnum generator) => Table[(int)generator];

    /// <summary>
    /// The units that one step of the SoundFont parameter for this generator adds: doubled until the greatest amount lies within 8,192 steps
    /// (SoundFont 2.04, section 9.6.3).
    /// </summary>
    public int ParameterStep
    {
        get
        {
            var step = 1;
            while (Math.Max(-Minimum, Maximum) > 8192 * step)
                step *= 2;
            return step;
        }
    }

    /// <summary>Clamps an amount to its range.</summary>
    public float Clamp(float amount) => Math.Clamp(amount, Minimum, Maximum);

    /// <summary>Clamps all amounts to their ranges.</summary>
    [MethodImpl(HotCode.Compiled)]
    public static void ClampAll(Span<float> amounts)
    {
        for (var i = 0; i < Count; i++)
            amounts[i] = Math.Min(Math.Max(amounts[i], Minima[i]), Maxima[i]);
    }

    private static GeneratorRange[] MakeTable()
    {
        var table = new GeneratorRange[Count];
        Array.Fill(table, new GeneratorRange(short.MinValue, short.MaxValue, 0));
        void Set(GeneratorEnum generator, int minimum, int maximum, int standard) =>
            table[(int)generator] = new GeneratorRange(minimum, maximum, standard);

        Set(GeneratorEnum.ModulationLFOToPitch, -12000, 12000, 0);
        Set(GeneratorEnum.VibratoLFOToPitch, -12000, 12000, 0);
        Set(GeneratorEnum.ModulationEnvelopeToPitch, -12000, 12000, 0);
        Set(GeneratorEnum.InitialFilterCutoffFrequency, 1500, 13500, 13500);
        Set(GeneratorEnum.InitialFilterQ, 0, 960, 0);
        Set(GeneratorEnum.ModulationLFOToFilterCutoffFrequency, -12000, 12000, 0);
        Set(GeneratorEnum.ModulationEnvelopeToFilterCutoffFrequency, -12000, 12000, 0);
        Set(GeneratorEnum.ModulationLFOToVolume, -960, 960, 0);
        Set(GeneratorEnum.ChorusEffectsSend, 0, 1000, 0);
        Set(GeneratorEnum.ReverbEffectsSend, 0, 1000, 0);
        Set(GeneratorEnum.Pan, -500, 500, 0);
        Set(GeneratorEnum.DelayModulationLFO, -12000, 5000, -12000);
        Set(GeneratorEnum.FrequencyModulationLFO, -16000, 4500, 0);
        Set(GeneratorEnum.DelayVibratoLFO, -12000, 5000, -12000);
        Set(GeneratorEnum.FrequencyVibratoLFO, -16000, 4500, 0);
        Set(GeneratorEnum.DelayModulationEnvelope, -12000, 5000, -12000);
        Set(GeneratorEnum.AttackModulationEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.HoldModulationEnvelope, -12000, 5000, -12000);
        Set(GeneratorEnum.DecayModulationEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.SustainModulationEnvelope, 0, 1000, 0);
        Set(GeneratorEnum.ReleaseModulationEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.KeyNumberToModulationEnvelopeHold, -1200, 1200, 0);
        Set(GeneratorEnum.KeyNumberToModulationEnvelopeDecay, -1200, 1200, 0);
        Set(GeneratorEnum.DelayVolumeEnvelope, -12000, 5000, -12000);
        Set(GeneratorEnum.AttackVolumeEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.HoldVolumeEnvelope, -12000, 5000, -12000);
        Set(GeneratorEnum.DecayVolumeEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.SustainVolumeEnvelope, 0, 1440, 0);
        Set(GeneratorEnum.ReleaseVolumeEnvelope, -12000, 8000, -12000);
        Set(GeneratorEnum.KeyNumberToVolumeEnvelopeHold, -1200, 1200, 0);
        Set(GeneratorEnum.KeyNumberToVolumeEnvelopeDecay, -1200, 1200, 0);
        Set(GeneratorEnum.KeyNumber, -1, 127, -1);
        Set(GeneratorEnum.Velocity, -1, 127, -1);
        Set(GeneratorEnum.InitialAttenuation, 0, 1440, 0);
        Set(GeneratorEnum.CoarseTune, -120, 120, 0);
        Set(GeneratorEnum.FineTune, -99, 99, 0);
        Set(GeneratorEnum.SampleModes, 0, 3, 0);
        Set(GeneratorEnum.ScaleTuning, 0, 1200, 100);
        Set(GeneratorEnum.ExclusiveClass, 0, 127, 0);
        Set(GeneratorEnum.OverridingRootKey, -1, 127, -1);
        return table;
    }
}
