using System.Runtime.InteropServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Sample points in memory, of 16 bits (<c>smpl</c>), or of 24 bits if the bank also has the lower eight (<c>sm24</c>), addressed by index:
/// the points of one sample with some around them, or of a whole bank.
/// </summary>
internal sealed unsafe class SamplePool
{
    /// <summary>The most points that a bank may have: a voice's position plus one step must fit in 31 bits.</summary>
    public const int MaxCount = int.MaxValue - (1 << 21);

    // What holds the points; kept only to keep it alive.
    private readonly BankBytes? _bank;
    private readonly short[]? _points;
    private readonly byte[]? _lowBits;

    /// <summary>All points of a bank in memory, in place.</summary>
    /// <param name="bank">The bank.</param>
    /// <param name="offset">Offset of the first point.</param>
    /// <param name="count">Number of points.</param>
    /// <param name="lowOffset">Offset of the first point's lower eight bits, or -1.</param>
    public SamplePool(BankBytes bank, long offset, int count, long lowOffset)
    {
        _bank = bank;
        High = (short*)bank.Address(offset);
        Low = lowOffset < 0 ? null : bank.Address(lowOffset);
        Count = count;
    }

    /// <summary>Points in pinned arrays.</summary>
    /// <param name="points">The upper 16 bits, and more: vectors are read some points past the last one.</param>
    /// <param name="lowBits">The lower 8 bits, as many; or null.</param>
    /// <param name="first">The place of point 0 in the sample chunk; 0 for a decoded sample.</param>
    /// <param name="count">Number of points.</param>
    public SamplePool(short[] points, byte[]? lowBits, int first, int count)
    {
        _points = points;
        _lowBits = lowBits;
        High = (short*)Marshal.UnsafeAddrOfPinnedArrayElement(points, 0);
        Low = lowBits is null ? null : (byte*)Marshal.UnsafeAddrOfPinnedArrayElement(lowBits, 0);
        First = first;
        Count = count;
    }

    /// <summary>The place of point 0 in the sample chunk; 0 for a decoded sample.</summary>
    public int First { get; }

    /// <summary>Number of sample points.</summary>
    public int Count { get; }

    /// <summary>The bytes of memory that are freed with this pool.</summary>
    public long Size => ((_points?.Length ?? 0) * (long)sizeof(short)) + (_lowBits?.Length ?? 0);

    /// <summary>The upper 16 bits. Valid as long as this pool is reachable.</summary>
    public short* High { get; }

    /// <summary>The lower 8 bits, or null.</summary>
    public byte* Low { get; }

    /// <summary>Whether the points have 24 bits.</summary>
    public bool IsDeep => Low != null;

    /// <summary>A point on the 16-bit scale.</summary>
    public float this[int index]
    {
        get
        {
            ArgumentOutOfRangeException.ThrowIfNegative(index);
            ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(index, Count);
            return IsDeep ? High[index] + (Low[index] * (1f / 256)) : High[index];
        }
    }

    /// <summary>Keeps the memory alive up to this call.</summary>
    public void KeepAlive() => GC.KeepAlive(this);
}
