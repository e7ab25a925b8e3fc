using System.Runtime.InteropServices;
using GrooveLab.Audio.Vorbis;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The samples of a bank: read from the file, or decoded, when a preset needs them, and shared by all presets that need the same ones.
/// What no preset holds any more is freed by the collector. One thread at a time.
/// </summary>
/// <remarks>
/// The headers of Vorbis samples (sf3) give start and end in bytes of the sample chunk, and the loop in points from the sample's own start.
/// This is common practice of the programs that write these banks; the SoundFont specification does not cover them.
/// </remarks>
internal sealed class SampleStore
{
    /// <summary>The most points that one compressed sample may decode to: 128 MB.</summary>
    public const int MaxDecodedPoints = 64 << 20;

    // Points of the chunk around a sample that interpolation and the test of its loop may read.
    private const int Around = 16;

    // Silence after the points, because vectors are read past the last one.
    private const int Margin = 16;

    private readonly BankBytes _bytes;
    private readonly RiffLayout.Chunk _smpl;
    private readonly long _lowBits;
    private readonly string _bankName;
    private readonly SamplePool? _whole;
    private readonly Dictionary<ulong, WeakReference<SamplePool>> _read = [];
    private readonly Dictionary<ulong, WeakReference<SamplePool>> _decoded = [];
    private readonly Dictionary<ulong, SoundFontException> _undecodable = [];
    private long _presetSize;
    private long _undecodableBytes;

    /// <summary>A store of the samples of a chunk.</summary>
    /// <param name="bytes">The bank.</param>
    /// <param name="smpl">The chunk.</param>
    /// <param name="lowBits">Offset of the first point's lower eight bits, or -1.</param>
    /// <param name="bankName">The bank's name in messages.</param>
    public SampleStore(BankBytes bytes, RiffLayout.Chunk smpl, long lowBits, string bankName)
    {
        _bytes = bytes;
        _smpl = smpl;
        _lowBits = lowBits;
        _bankName = bankName;
        Count = (int)(smpl.Length / sizeof(short));
        if (bytes.IsInMemory)
            _whole = new SamplePool(bytes, smpl.Offset, Count, lowBits);
    }

    /// <summary>The number of points in the chunk, if they are not compressed.</summary>
    public int Count { get; }

    /// <summary>The most bytes of samples that one preset may need: 1 GB.</summary>
    public long MaxPresetSize { get; set; } = 1_000_000_000;

    /// <summary>The bytes of all samples that were ever read or decoded, whether they are still held or not.</summary>
    public long TotalSize { get; private set; }

    /// <summary>Begins to count the samples of a preset.</summary>
    public void StartPreset() => _presetSize = 0;

    /// <summary>The points of a part of the chunk, with some around them.</summary>
    /// <param name="from">First point.</param>
    /// <param name="to">The point after the last.</param>
    /// <exception cref="SoundFontException">The file cannot be read, or has changed.</exception>
    public SamplePool Points(int from, int to) => _whole ?? Shared(_read, Key((uint)from, (uint)to), () => ReadPoints(from, to));

    /// <summary>The points of a Vorbis stream.</summary>
    /// <param name="start">First byte in the sample chunk.</param>
    /// <param name="end">The byte after the last.</param>
    /// <param name="name">The sample's name in messages.</param>
    /// <exception cref="SoundFontException">The data are not a Vorbis stream or exceed <see cref="MaxDecodedPoints"/>; the file cannot be read, or has changed.</exception>
    public SamplePool Decoded(uint start, uint end, string name)
        => _undecodable.TryGetValue(Key(start, end), out var known) ? throw known : Shared(_decoded, Key(start, end), () => Decode(start, end, name));

    /// <summary>Why a Vorbis stream cannot be decoded; null if it can, or was never asked for.</summary>
    public string? FaultOf(uint start, uint end) => _undecodable.GetValueOrDefault(Key(start, end))?.Message;

    private static short[] NewPoints(int count)
    {
        var points = GC.AllocateUninitializedArray<short>(count + Margin, pinned: true);
        points.AsSpan(count).Clear();
        return points;
    }

    private static ulong Key(uint from, uint to) => ((ulong)from << 32) | to;

    private SamplePool Shared(Dictionary<ulong, WeakReference<SamplePool>> pools, ulong key, Func<SamplePool> make)
    {
        if (pools.TryGetValue(key, out var known) && known.TryGetTarget(out var pool))
            return pool;
        pool = make();
        TotalSize += pool.Size;
        _presetSize += pool.Size;
        if (_presetSize > MaxPresetSize)
            throw new SoundFontException(_bankName, $"the samples of one preset take more than {MaxPresetSize / 1_000_000.0:0} MB");
        pools[key] = new WeakReference<SamplePool>(pool);
        return pool;
    }

    private SamplePool ReadPoints(int from, int to)
    {
        from = Math.Max(0, from - Around);
        to = (int)Math.Min((long)to + Around, Count);
        var count = to - from;
        var high = NewPoints(count);
        _bytes.Read(_smpl.Offset + ((long)from * sizeof(short)), MemoryMarshal.AsBytes(high.AsSpan(0, count)));
        byte[]? low = null;
        if (_lowBits >= 0)
        {
            low = GC.AllocateUninitializedArray<byte>(count + Margin, pinned: true);
            low.AsSpan(count).Clear();
            _bytes.Read(_lowBits + from, low.AsSpan(0, count));
        }
        _bytes.CheckUnchanged();
        return new SamplePool(high, low, from, count);
    }

    private SamplePool Decode(uint start, uint end, string name)
    {
        var stream = _bytes.Read(_smpl.Offset + start, (int)(end - start));
        _bytes.CheckUnchanged();
        try
        {
            var (points, count) = VorbisDecoder.DecodeFirstChannel(stream, MaxDecodedPoints, NewPoints);
            if (count == 0)
                throw new InvalidDataException("it holds no sound");
            return new SamplePool(points, lowBits: null, first: 0, count);
        }
        catch (InvalidDataException e)
        {
            // Streams of a damaged bank may overlap, and each would be read: no more than the chunk holds is tried.
            _undecodableBytes += end - start;
            if (_undecodableBytes > _smpl.Length)
                throw new SoundFontException($"{_bankName}: sample {name}", $"its Vorbis stream cannot be decoded, nor can many others ({e.Message})", e);
            var failure = new SoundFontException($"{_bankName}: sample {name}", $"its Vorbis stream cannot be decoded ({e.Message})", e);
            _undecodable[Key(start, end)] = failure;
            throw failure;
        }
    }
}
