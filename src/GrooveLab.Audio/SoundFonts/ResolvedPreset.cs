namespace GrooveLab.Audio.SoundFonts;

/// <summary>A preset with its regions and their points in memory, ready to play. Only the time of its last use changes.</summary>
internal sealed class ResolvedPreset(SoundFontPreset preset, Region[] regions)
{
    private long _lastUse;

    public SoundFontPreset Preset { get; } = preset;

    public Region[] Regions { get; } = regions;

    /// <summary>When the preset was last asked for, in a count that all presets of a bank share. From any thread.</summary>
    public long LastUse
    {
        get => Interlocked.Read(ref _lastUse);
        set => Interlocked.Exchange(ref _lastUse, value);
    }
}
