namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The presets of a bank by number, and their regions once they are resolved: what the audio thread looks up. One thread at a time resolves
/// and drops; any thread may look up, and neither allocates nor waits.
/// </summary>
/// <param name="all">All presets in the bank's own order; at least one.</param>
internal sealed class PresetTable(SoundFontPreset[] all)
{
    private readonly ResolvedPreset?[] _kept = new ResolvedPreset?[all.Length];

    // A dropped preset lives as long as a channel or a voice holds it, and can be found until then.
    private readonly WeakReference<ResolvedPreset>?[] _dropped = new WeakReference<ResolvedPreset>?[all.Length];
    private long _uses;

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
        return new PresetChoice(standIn ?? All[0], IsExact: false, IsOtherKind: standIn is null);
    }

    /// <summary>The resolved presets that are kept, null for the others.</summary>
    public ReadOnlySpan<ResolvedPreset?> Kept => _kept;

    /// <summary>A preset's regions, marked as used; null until they are kept, and when they are dropped and no longer held by anybody.</summary>
    public ResolvedPreset? Resolved(SoundFontPreset preset)
    {
        var resolved = Volatile.Read(ref _kept[preset.Index]);
        if (resolved is null && Volatile.Read(ref _dropped[preset.Index])?.TryGetTarget(out resolved) != true)
            return null;
        resolved!.LastUse = Interlocked.Increment(ref _uses);
        return resolved;
    }

    /// <summary>Keeps a preset's regions for later lookups.</summary>
    public void Keep(ResolvedPreset resolved)
    {
        resolved.LastUse = Interlocked.Increment(ref _uses);
        Volatile.Write(ref _kept[resolved.Preset.Index], resolved);
    }

    /// <summary>Lets the collector free a preset's regions as soon as no channel and no voice holds them.</summary>
    public void Drop(ResolvedPreset resolved)
    {
        Volatile.Write(ref _dropped[resolved.Preset.Index], new WeakReference<ResolvedPreset>(resolved));
        Volatile.Write(ref _kept[resolved.Preset.Index], null);
    }

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
