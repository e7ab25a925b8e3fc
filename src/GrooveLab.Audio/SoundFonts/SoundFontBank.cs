using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// A SoundFont 2 bank: its presets by bank and program number, and their sounds on demand.
/// </summary>
/// <remarks>
/// <para>
/// Opening reads and checks all tables. The samples of a preset are read or decoded into memory when it is prepared, so voices never
/// read the file. If the file is cut or written while the bank is open, prepared presets play on, and others can no longer be prepared.
/// </para>
/// <para>
/// Prepared presets stay in memory up to <see cref="MemoryBudget"/>. Beyond that, those unused for longest are dropped; what a channel or a
/// voice plays stays in any case. A dropped preset is prepared again when it is asked for.
/// </para>
/// <para>
/// Any thread may call any member. The collector closes the file when nothing refers to the bank any more, here or in a synthesizer;
/// nothing needs disposing, so a bank can safely be replaced while its notes ring.
/// </para>
/// <para>Accepts SoundFont 2.00 to 2.04 with samples of 16 or 24 bits, and banks with Vorbis samples (sf3). Leaves out
/// samples in ROM, damaged ones and those whose header is wrong, and refuses presets of which nothing is left, and
/// every size or index that points outside its table.</para>
/// </remarks>
public sealed class SoundFontBank
{
    /// <summary>The bytes of samples that prepared presets may hold together, unless <see cref="MemoryBudget"/> is set otherwise: 256 MB.</summary>
    public const long DefaultMemoryBudget = 256 << 20;

    /// <summary>
    /// The share of initial attenuation (generator 48) that most banks are made for, 0.4: the sound cards for which the format was made applied
    /// no more, most players follow them, and banks are balanced by ear in such players. From memory; docs/synthesizer.md has
    /// measurements.
    /// </summary>
    public const float UsualAttenuationShare = 0.4f;

    private const int RomFlag = 0x8000;
    private const int CompressedFlag = 0x10;
    private const int LowestSampleRate = 100;
    private const int HighestSampleRate = 768_000;

    private const int MostFaultsTold = 4;

    private readonly Lock _resolving = new();
    private readonly Preset[] _parsed;
    private readonly PresetTable _presets;
    private readonly SampleStore _samples;
    private readonly Dictionary<SampleHeader, string> _faults;
    private readonly HashSet<string> _leftOut = [];
    private long _dropped;

    private SoundFontBank(string name, string title, IReadOnlyList<string> unpadded, IReadOnlyList<string> warnings, Preset[] parsed, SampleStore samples, Dictionary<SampleHeader, string> faults, float attenuationShare)
    {
        _faults = faults;
        AttenuationShare = attenuationShare;
        Name = name;
        Title = title;
        Oddities = [.. unpadded, .. warnings];
        Warnings = warnings;
        _parsed = parsed;
        _samples = samples;
        _presets = new PresetTable([.. parsed.Select((p, i) => new SoundFontPreset(i, p.Bank, p.PatchNumber, Printable(p.Name)))]);
    }

    /// <summary>The file's name without its folder, or the name given with the data.</summary>
    public string Name { get; }

    /// <summary>The bank's own title (the <c>INAM</c> chunk); may be empty.</summary>
    public string Title { get; }

    /// <summary>The share of initial attenuation (generator 48) that is applied, 0-1; 1 is as the specification says.</summary>
    public float AttenuationShare { get; }

    /// <summary>What in the file breaks the rules but can be read: a sentence each; usually none.</summary>
    public IReadOnlyList<string> Oddities { get; }

    /// <summary>The <see cref="Oddities"/> that may matter to a player: without missing padding bytes.</summary>
    public IReadOnlyList<string> Warnings { get; }

    /// <summary>The samples that could not be decoded so far and are left out: a sentence each. From any thread.</summary>
    public IReadOnlyList<string> LeftOut
    {
        get
        {
            lock (_leftOut)
                return [.. _leftOut];
        }
    }

    /// <summary>
    /// The bytes of samples that prepared presets may hold together before those unused for longest are dropped; followed whenever a preset
    /// is prepared.
    /// </summary>
    public long MemoryBudget { get; set; } = DefaultMemoryBudget;

    /// <summary>The samples.</summary>
    internal SampleStore Samples => _samples;

    /// <summary>All presets in the bank's own order; at least one.</summary>
    public IReadOnlyList<SoundFontPreset> Presets => _presets.All;

    /// <summary>Opens a bank from a file; reads only its tables.</summary>
    /// <param name="path">The file.</param>
    /// <param name="attenuationShare">See <see cref="AttenuationShare"/>.</param>
    /// <exception cref="SoundFontException">The file cannot be read or is not a playable bank.</exception>
    /// <exception cref="ArgumentOutOfRangeException">The share is outside its range.</exception>
    public static SoundFontBank Open(string path, float attenuationShare = UsualAttenuationShare)
    {
        var name = Path.GetFileName(path);
        return Read(BankBytes.Open(path, name), name, attenuationShare);
    }

    /// <summary>Loads a bank from memory and keeps a copy.</summary>
    /// <param name="data">The whole file.</param>
    /// <param name="name">The bank's name in messages.</param>
    /// <param name="attenuationShare">See <see cref="AttenuationShare"/>.</param>
    /// <exception cref="SoundFontException">The data are not a playable bank.</exception>
    public static SoundFontBank Load(ReadOnlyMemory<byte> data, string name, float attenuationShare = UsualAttenuationShare) =>
        Read(BankBytes.Copy(data.Span, name), name, attenuationShare);

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
    /// Prepares a preset for playing: resolves its regions and brings their samples into memory. A second call does nothing, unless the
    /// preset has been dropped. Not for the audio thread.
    /// </summary>
    /// <exception cref="SoundFontException">The preset cannot be resolved.</exception>
    public void Prepare(SoundFontPreset preset) => Resolve(preset);

    /// <summary>Whether a note starts a sound at some velocity. Prepares the preset.</summary>
    /// <param name="preset">The preset.</param>
    /// <param name="key">MIDI key, 0-127.</param>
    /// <exception cref="SoundFontException">The preset cannot be resolved.</exception>
    public bool Sounds(SoundFontPreset preset, int key) =>
        Resolve(preset).Regions.Any(region => Enumerable.Range(1, 127).Any(velocity => region.Answers(key, velocity)));

    /// <summary>The preset's regions, resolved now if necessary. Not for the audio thread.</summary>
    internal ResolvedPreset Resolve(SoundFontPreset preset)
    {
        lock (_resolving)
        {
            var resolved = TryGetResolved(preset);
            if (resolved is not null && _presets.Kept.Contains(resolved))
                return resolved;
            resolved ??= new ResolvedPreset(preset, Regions(preset));
            _presets.Keep(resolved);
            DropUnused(resolved);
            return resolved;
        }
    }

    /// <summary>The preset's regions if they are already resolved. Neither allocates nor waits.</summary>
    internal ResolvedPreset? TryGetResolved(SoundFontPreset preset) => _presets.Resolved(preset);

    private static SoundFontBank Read(BankBytes bytes, string name, float attenuationShare)
    {
        if (!(attenuationShare is >= 0 and <= 1))
            throw new ArgumentOutOfRangeException(nameof(attenuationShare), attenuationShare, "Must be 0-1.");
        var layout = RiffLayout.Read(bytes, name);
        var hydra = Hydra.Read(bytes, layout, name);
        var parsed = Parse(ReducedFile.Make(bytes, layout, hydra, name), name);
        var smpl = layout["smpl"];
        if (smpl.Length / 2 > SamplePool.MaxCount)
            throw new SoundFontException($"{name}: smpl", $"too many samples for this program: {smpl.Length} bytes");
        // A chunk of lower bits that is too short for the points must be ignored (section 6.2).
        var lowBits = layout.TryGet("sm24", out var sm24) && sm24.Length >= smpl.Length / 2 ? sm24.Offset : -1;
        var faults = Faults(parsed, smpl.Length, name);
        var presets = parsed.Presets;
        if (presets.Length == 0)
            throw new SoundFontException($"{name}: phdr", "the bank has no presets");
        return new SoundFontBank(name, ReadTitle(bytes, layout), layout.Unpadded, [.. layout.Oddities, .. InWords(faults)], presets, new SampleStore(bytes, smpl, lowBits, name), faults, attenuationShare);
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

    // The samples that cannot be played, with the reason of each. Their regions are left out.
    private static Dictionary<SampleHeader, string> Faults(SoundFont parsed, long poolBytes, string name)
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
        var faults = new Dictionary<SampleHeader, string>(ReferenceEqualityComparer.Instance);
        // Every access to this property makes a copy.
        var samples = parsed.SampleHeaders;
        for (var i = 0; i < samples.Length; i++)
        {
            var sample = samples[i];
            // Headers that no instrument refers to may contain anything; many banks have such leftovers.
            if (!used.Contains(sample))
                continue;
            if (Fault(sample, poolBytes) is { } fault)
                faults.Add(sample, $"shdr record {i} ({Printable(sample.SampleName)}): {fault}");
        }
        return faults.Count > 0 && faults.Count == used.Count ? throw new SoundFontException(name, faults.Values.First()) : faults;
    }

    private static IEnumerable<string> InWords(Dictionary<SampleHeader, string> faults)
    {
        foreach (var fault in faults.Values.Take(MostFaultsTold))
            yield return $"A sample is left out: {fault}.";
        if (faults.Count > MostFaultsTold)
            yield return $"{faults.Count - MostFaultsTold} more {(faults.Count == MostFaultsTold + 1 ? "sample is" : "samples are")} left out for similar reasons.";
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
        var text = System.Text.Encoding.Latin1.GetString(bytes.Read(chunk.Offset, (int)Math.Min(chunk.Length, 256)));
        return Printable(text.Split('\0')[0]).Trim();
    }

    /// <summary>A name of the file without control characters, which a terminal would obey.</summary>
    internal static string Printable(string? name) => string.Concat((name ?? "").Select(letter => char.IsControl(letter) ? '?' : letter));

    private Region[] Regions(SoundFontPreset preset)
    {
        try
        {
            _samples.StartPreset();
            var regions = _parsed[preset.Index].ResolveRegions().ToList();
            var built = new List<Region>(regions.Count);
            string? fault = null;
            foreach (var region in regions)
            {
                if (_faults.TryGetValue(region.Sample, out var known))
                    fault ??= known;
                else if (Build(region) is { } playable)
                    built.Add(playable);
                else
                    fault ??= _samples.FaultOf(region.Sample.Start, region.Sample.End);
            }
            return fault is null || built.Count > 0 ? [.. built]
                : throw new SoundFontException($"{Name}: preset {preset.Bank}:{preset.Program} ({preset.Name})", $"none of its samples can be played; {fault}");
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

    // Null if its sample cannot be decoded.
    private Region? Build(SoundFontRegion parsed)
    {
        try
        {
            return RegionBuilder.Build(parsed, _samples, IsCompressed(parsed.Sample), AttenuationShare);
        }
        catch (SoundFontException e) when (_samples.FaultOf(parsed.Sample.Start, parsed.Sample.End) is not null)
        {
            lock (_leftOut)
                _leftOut.Add($"A sample is left out: {e.Message}");
            return null;
        }
    }

    /// <summary>Drops the presets unused for longest until the others fit in the budget, except the one just prepared.</summary>
    private void DropUnused(ResolvedPreset latest)
    {
        if (_samples.TotalSize <= MemoryBudget)
            return;
        var kept = new List<ResolvedPreset>();
        foreach (var preset in _presets.Kept)
        {
            if (preset is not null && preset != latest)
                kept.Add(preset);
        }
        var held = new HashSet<SamplePool>();
        var size = Held(latest);
        foreach (var preset in kept.OrderByDescending(preset => preset.LastUse))
        {
            // Presets share samples, so each counts with what those used after it do not hold.
            var itsSize = Held(preset);
            size += itsSize;
            if (size <= MemoryBudget)
                continue;
            _presets.Drop(preset);
            _dropped += itsSize;
        }
        if (_dropped > MemoryBudget / 8)
        {
            // The collector does not know that there is a budget. Not blocking: music may be playing.
            _dropped = 0;
            GC.Collect(GC.MaxGeneration, GCCollectionMode.Forced, blocking: false);
        }

        long Held(ResolvedPreset preset) => preset.Regions.Sum(region => held.Add(region.Pool) ? region.Pool.Size : 0);
    }
}
