using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Sample points of 16 bits (<c>smpl</c>), or of 24 bits if the bank also has the lower eight (<c>sm24</c>), addressed by index.
/// </summary>
internal sealed unsafe class SamplePool
{
    /// <summary>The most points that a bank may have: a voice's position plus one step must fit in 31 bits.</summary>
    public const int MaxCount = int.MaxValue - (1 << 21);

    private const int PageSize = 4096;
    private readonly BankBytes _bytes;

    /// <summary>A pool over some bytes.</summary>
    /// <param name="bytes">The bytes.</param>
    /// <param name="offset">Offset of the first point.</param>
    /// <param name="count">Number of points.</param>
    /// <param name="lowOffset">Offset of the first point's lower eight bits, or -1.</param>
    public SamplePool(BankBytes bytes, long offset, int count, long lowOffset = -1)
    {
        _bytes = bytes;
        High = (short*)bytes.Address(offset);
        Low = lowOffset < 0 ? null : bytes.Address(lowOffset);
        Count = count;
    }

    /// <summary>Number of sample points.</summary>
    public int Count { get; }

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
    public void KeepAlive() => _bytes.KeepAlive();

    /// <summary>Reads one point of every memory page in a range, so that later reads do not wait for the disk.</summary>
    /// <returns>A meaningless sum, returned so that the compiler keeps the reads.</returns>
    [MethodImpl(MethodImplOptions.NoInlining)]
    public int Touch(int start, int end)
    {
        var sum = 0;
        for (var i = Math.Max(0, start); i < Math.Min(end, Count); i += PageSize / sizeof(short))
            sum ^= High[i];
        if (IsDeep)
        {
            for (var i = Math.Max(0, start); i < Math.Min(end, Count); i += PageSize)
                sum ^= Low[i];
        }
        _bytes.KeepAlive();
        return sum;
    }
}
