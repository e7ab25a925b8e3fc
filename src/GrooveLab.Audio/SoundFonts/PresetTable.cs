namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The presets of a bank by number, and their regions once they are resolved: what the audio thread looks up. One thread at a time resolves; any
/// thread may look up, and neither allocates nor waits.
/// </summary>
/// <param name="all">All presets in the bank's own order; at least one.</param>
internal sealed class PresetTable(SoundFontPreset[] all)
{
    private readonly ResolvedPreset?[] _resolved = new ResolvedPreset?[all.Length];

    /// <summary>All presets in the bank's own order.</summary>
    public SoundFontPreset[] All { get; } = all;

    /// <summary>The preset to play for a bank and program number; <see cref="SoundFontBank.FindPreset"/> says which.</summary>
    public PresetChoice Choose(int bank, int program)
    {
        if (Find(bank, program) is { } exact)
            return new PresetChoice(exact, IsExact: true);
        var standIn = bank == SoundFontPreset.PercussionBank
            ? Find(bank, 0) ?? FirstIn(bank)
            : Find(0, program) ?? Nearest(program);
        return new PresetChoice(standIn ?? All[0], IsExact: false);
    }

    /// <summary>A preset's regions; null until they are kept.</summary>
    public ResolvedPreset? Resolved(SoundFontPreset preset) => Volatile.Read(ref _resolved[preset.Index]);

    /// <summary>Keeps a preset's regions for later lookups.</summary>
    public void Keep(ResolvedPreset resolved) => Volatile.Write(ref _resolved[resolved.Preset.Index], resolved);

    private SoundFontPreset? Find(int bank, int program)
    {
        foreach (var preset in All)
        {
            if (preset.Bank == bank && preset.Program == program)
                return preset;
        }
        return null;
    }

    private SoundFontPreset? FirstIn(int bank)
    {
        foreach (var preset in All)
        {
            if (preset.Bank == bank)
                return preset;
        }
        return null;
    }

    private SoundFontPreset? Nearest(int program)
    {
        SoundFontPreset? nearest = null;
        var least = int.MaxValue;
        foreach (var preset in All)
        {
            if (preset.Bank == SoundFontPreset.PercussionBank)
                continue;
            var outsideFamily = preset.Program / 8 == program / 8 ? 0 : 1;
            var distance = Math.Min(Math.Abs(preset.Program - program), 255);
            var cost = (preset.Bank * 512) + (outsideFamily * 256) + distance;
            if (cost < least)
            {
                least = cost;
                nearest = preset;
            }
        }
        return nearest;
    }
}
