namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Sample points in memory, of 16 bits (<c>smpl</c>), or of 24 bits if the bank also has the lower eight (<c>sm24</c>), addressed by index:
/// the points of one sample with some around them, or of a whole bank.
/// </summary>
internal sealed unsafe class SamplePool
{
    /// <summary>The most points that a bank may have: a voice's position plus one step must fit in 31 bits.</summary>
    public const int MaxCount = int.MaxValue - (1 << 21);

    // The arrays that hold the points; held only to keep them alive.
    private readonly object _owner;

    /// <summary>A pool over some memory.</summary>
    /// <param name="owner">What keeps the memory alive.</param>
    /// <param name="high">The upper 16 bits; vectors may be read some points past the last one.</param>
    /// <param name="low">The lower 8 bits, or null.</param>
    /// <param name="first">The place of point 0 in the sample chunk.</param>
    /// <param name="count">Number of points.</param>
    /// <param name="size">The bytes of memory that are freed with this pool.</param>
    public SamplePool(object owner, short* high, byte* low, int first, int count, long size)
    {
        _owner = owner;
        High = high;
        Low = low;
        First = first;
        Count = count;
        Size = size;
    }

    /// <summary>The place of point 0 in the sample chunk; 0 for a decoded sample.</summary>
    public int First { get; }

    /// <summary>Number of sample points.</summary>
    public int Count { get; }

    /// <summary>The bytes of memory that are freed with this pool.</summary>
    public long Size { get; }

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
    public void KeepAlive() => GC.KeepAlive(_owner);
}
