using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// A SoundFont 2 bank: its presets by bank and program number, and their sounds on demand.
/// </summary>
/// <remarks>
/// <para>
/// Opening reads and checks all tables. The sample chunk stays in the mapped file (or in memory), and voices read it there as they
/// play. Do not write to the file of an open bank.
/// </para>
/// <para>
/// Any thread may call any member. The collector closes the file when nothing refers to the bank any more, here or in a synthesizer;
/// nothing needs disposing, so a bank can safely be replaced while its notes ring.
/// </para>
/// <para>Accepts SoundFont 2.00 to 2.04 with samples of 16 or 24 bits, and banks with Vorbis samples (sf3), which are decoded into memory
/// when a preset is prepared. Refuses samples in ROM, and every size, offset or index that points outside its table.</para>
/// </remarks>
public sealed class SoundFontBank
{
    /// <summary>
    /// The share of initial attenuation (generator 48) that most banks are made for, 0.4: the sound cards that SoundFont was designed for
    /// applied no more of it, most players follow them, and banks are balanced by ear in such players.
    /// </summary>
    public const float UsualAttenuationShare = 0.4f;

    private const int RomFlag = 0x8000;
    private const int CompressedFlag = 0x10;
    private const int LowestSampleRate = 100;
    private const int HighestSampleRate = 768_000;

    private readonly Lock _resolving = new();
    private readonly Preset[] _parsed;
    private readonly PresetTable _presets;
    private readonly SamplePool _pool;
    private readonly VorbisSamples _vorbis;

    private SoundFontBank(string name, string title, Preset[] parsed, SamplePool pool, VorbisSamples vorbis, float attenuationShare)
    {
        AttenuationShare = attenuationShare;
        _vorbis = vorbis;
        Name = name;
        Title = title;
        _parsed = parsed;
        _pool = pool;
        _presets = new PresetTable([.. parsed.Select((p, i) => new SoundFontPreset(i, p.Bank, p.PatchNumber, p.Name ?? ""))]);
    }

    /// <summary>The file's name without its folder, or the name given with the data.</summary>
    public string Name { get; }

    /// <summary>The bank's own title (the <c>INAM</c> chunk); may be empty.</summary>
    public string Title { get; }

    /// <summary>The share of initial attenuation (generator 48) that is applied, 0-1; 1 is as the specification says.</summary>
    public float AttenuationShare { get; }

    /// <summary>All presets in the bank's own order; at least one.</summary>
    public IReadOnlyList<SoundFontPreset> Presets => _presets.All;

    /// <summary>Opens a bank from a file by mapping it; reads only its tables.</summary>
    /// <param name="path">The file.</param>
    /// <param name="attenuationShare">See <see cref="AttenuationShare"/>.</param>
    /// <exception cref="SoundFontException">The file cannot be read or is not a playable bank.</exception>
    /// <exception cref="ArgumentOutOfRangeException">The share is outside its range.</exception>
    public static SoundFontBank Open(string path, float attenuationShare = UsualAttenuationShare)
    {
        var name = Path.GetFileName(path);
        BankBytes bytes;
        try
        {
            bytes = BankBytes.Map(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SoundFontException(name, $"the file cannot be read ({e.Message})", e);
        }
        return Read(bytes, name, attenuationShare);
    }

    /// <summary>Loads a bank from memory and keeps a copy.</summary>
    /// <param name="data">The whole file.</param>
    /// <param name="name">The bank's name in messages.</param>
    /// <param name="attenuationShare">See <see cref="AttenuationShare"/>.</param>
    /// <exception cref="SoundFontException">The data are not a playable bank.</exception>
    public static SoundFontBank Load(ReadOnlyMemory<byte> data, string name, float attenuationShare = UsualAttenuationShare) =>
        Read(BankBytes.Copy(data.Span), name, attenuationShare);

    /// <summary>Reads a bank from a stream into memory, up to the stream's end.</summary>
    /// <inheritdoc cref="Load(ReadOnlyMemory{byte}, string, float)"/>
    public static SoundFontBank Load(Stream stream, string name, float attenuationShare = UsualAttenuationShare)
    {
        using var copy = new MemoryStream();
        try
        {
            stream.CopyTo(copy);
        }
        catch (Exception e) when (e is IOException or NotSupportedException or ObjectDisposedException)
        {
            throw new SoundFontException(name, $"the data cannot be read ({e.Message})", e);
        }
        return Load(copy.GetBuffer().AsMemory(0, (int)copy.Length), name, attenuationShare);
    }

    /// <summary>
    /// The preset to play for these numbers: the exact one; else the same program in bank 0; else the nearest program of bank 0,
    /// first within the same General MIDI family of eight. In the percussion bank (128): else its program 0, else its first preset.
    /// If none of these exists, the first preset of the file. Does not allocate.
    /// </summary>
    public PresetChoice FindPreset(int bank, int program) => _presets.Choose(bank, program);

    /// <summary>
    /// Prepares a preset for playing: resolves its regions and reads every memory page of its samples once. A second call does nothing.
    /// Not for the audio thread.
    /// </summary>
    /// <exception cref="SoundFontException">The preset cannot be resolved.</exception>
    public void Prepare(SoundFontPreset preset)
    {
        foreach (var region in Resolve(preset).Regions)
            region.Pool.Touch(region.Start, region.End);
    }

    /// <summary>The preset's regions, resolved now if necessary. Not for the audio thread.</summary>
    internal ResolvedPreset Resolve(SoundFontPreset preset)
    {
        if (TryGetResolved(preset) is { } ready)
            return ready;
        lock (_resolving)
        {
            if (TryGetResolved(preset) is { } meanwhile)
                return meanwhile;
            var resolved = new ResolvedPreset(preset, Regions(preset));
            _presets.Keep(resolved);
            return resolved;
        }
    }

    /// <summary>The preset's regions if they are already resolved. Neither allocates nor waits.</summary>
    internal ResolvedPreset? TryGetResolved(SoundFontPreset preset) => _presets.Resolved(preset);

    private static SoundFontBank Read(BankBytes bytes, string name, float attenuationShare)
    {
        if (!(attenuationShare is >= 0 and <= 1))
            throw new ArgumentOutOfRangeException(nameof(attenuationShare), attenuationShare, "Must be 0-1.");
        try
        {
            var layout = RiffLayout.Read(bytes, name);
            Hydra.Check(bytes, layout, name);
            var parsed = Parse(ReducedFile.Make(bytes, layout, name), name);
            var smpl = layout["smpl"];
            if (smpl.Length / 2 > SamplePool.MaxCount)
                throw new SoundFontException($"{name}: smpl", $"too many samples for this program: {smpl.Length} bytes");
            var count = (int)(smpl.Length / 2);
            // A chunk of lower bits that is too short for the points must be ignored (section 6.2).
            var lowBits = layout.TryGet("sm24", out var sm24) && sm24.Length >= count ? sm24.Offset : -1;
            var pool = new SamplePool(bytes, smpl.Offset, count, lowBits);
            CheckSamples(parsed, smpl.Length, name);
            var presets = parsed.Presets;
            if (presets.Length == 0)
                throw new SoundFontException($"{name}: phdr", "the bank has no presets");
            return new SoundFontBank(name, ReadTitle(bytes, layout), presets, pool, new VorbisSamples(bytes, smpl, name), attenuationShare);
        }
        finally
        {
            // The walk reads through spans, which do not keep their owner alive.
            bytes.KeepAlive();
        }
    }

    private static SoundFont Parse(byte[] reduced, string name)
    {
        try
        {
            using var stream = new MemoryStream(reduced, writable: false);
            return new SoundFont(stream);
        }
#pragma warning disable CA1031 // The parser throws many kinds of exceptions; a bank's fault must be one kind, with its place.
        catch (Exception e)
#pragma warning restore CA1031
        {
            throw new SoundFontException($"{name}: LIST pdta", e.Message, e);
        }
    }

    private static void CheckSamples(SoundFont parsed, long poolBytes, string name)
    {
        var used = new HashSet<SampleHeader>(ReferenceEqualityComparer.Instance);
        foreach (var instrument in parsed.Instruments)
        {
            foreach (var zone in instrument.Zones ?? [])
            {
                foreach (var generator in zone.Generators ?? [])
                {
                    if (generator.GeneratorType == GeneratorEnum.SampleID && generator.SampleHeader is { } sample)
                        used.Add(sample);
                }
            }
        }
        // Every access to this property makes a copy.
        var samples = parsed.SampleHeaders;
        for (var i = 0; i < samples.Length; i++)
        {
            var sample = samples[i];
            // Headers that no instrument refers to may contain anything; many banks have such leftovers.
            if (!used.Contains(sample))
                continue;
            if (Fault(sample, poolBytes) is { } fault)
                throw new SoundFontException($"{name}: shdr record {i} ({sample.SampleName})", fault);
        }
    }

    private static string? Fault(SampleHeader sample, long poolBytes)
    {
        if (((int)sample.SFSampleLink & RomFlag) != 0)
            return "the sample is in ROM, which this program does not have";
        if (sample.Start >= sample.End)
            return $"the sample ends at {sample.End}, not after its start at {sample.Start}";
        var (limit, unit) = IsCompressed(sample) ? (poolBytes, "bytes") : (poolBytes / 2, "points");
        if (sample.End > limit)
            return $"the sample ends at {sample.End}, past the {limit} {unit} of the smpl chunk";
        if (sample.SampleRate is < LowestSampleRate or > HighestSampleRate)
            return $"invalid sample rate {sample.SampleRate} Hz; accepted: {LowestSampleRate} to {HighestSampleRate}";
        return null;
    }

    private static bool IsCompressed(SampleHeader sample) => ((int)sample.SFSampleLink & CompressedFlag) != 0;

    private static string ReadTitle(BankBytes bytes, RiffLayout layout)
    {
        if (!layout.TryGet("INAM", out var chunk))
            return "";
        var text = System.Text.Encoding.Latin1.GetString(bytes.Slice(chunk.Offset, (int)Math.Min(chunk.Length, 256)));
        return text.Split('\0')[0].Trim();
    }

    private Region[] Regions(SoundFontPreset preset)
    {
        try
        {
            return [.. _parsed[preset.Index].ResolveRegions().Select(Build)];
        }
        catch (SoundFontException)
        {
            throw;
        }
#pragma warning disable CA1031 // The resolver throws many kinds of exceptions; a bank's fault must be one kind, with its place.
        catch (Exception e)
#pragma warning restore CA1031
        {
            throw new SoundFontException($"{Name}: preset {preset.Bank}:{preset.Program} ({preset.Name})", e.Message, e);
        }
    }

    private Region Build(SoundFontRegion parsed)
    {
        var sample = parsed.Sample;
        return IsCompressed(sample)
            ? RegionBuilder.Build(parsed, _vorbis.Decode(sample.Start, sample.End, sample.SampleName ?? ""), isOwnPool: true, AttenuationShare)
            : RegionBuilder.Build(parsed, _pool, isOwnPool: false, AttenuationShare);
    }
}
