using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Sample points of 16 bits (<c>smpl</c>), or of 24 where the bank has their lower eight bits too (<c>sm24</c>), addressed by index.
/// </summary>
internal sealed unsafe class SamplePool
{
    /// <summary>The most points that a bank may have: a voice's place plus one step must still fit in 31 bits.</summary>
    public const int MaxCount = int.MaxValue - (1 << 21);

    private const int PageSize = 4096;
    private readonly BankBytes _bytes;

    /// <summary>A pool over some bytes.</summary>
    /// <param name="bytes">Where they are.</param>
    /// <param name="offset">Of the first point.</param>
    /// <param name="count">How many points there are.</param>
    /// <param name="lowOffset">Of the first point's lower eight bits, or -1.</param>
    public SamplePool(BankBytes bytes, long offset, int count, long lowOffset = -1)
    {
        _bytes = bytes;
        High = (short*)bytes.Address(offset);
        Low = lowOffset < 0 ? null : bytes.Address(lowOffset);
        Count = count;
    }

    /// <summary>How many sample points there are.</summary>
    public int Count { get; }

    /// <summary>The upper 16 bits. Only valid while this pool is reachable.</summary>
    public short* High { get; }

    /// <summary>The lower 8 bits, or null.</summary>
    public byte* Low { get; }

    /// <summary>Whether the points have 24 bits.</summary>
    public bool IsDeep => Low != null;

    /// <summary>A point in units of the 16-bit scale.</summary>
    public float this[int index]
    {
        get
        {
            ArgumentOutOfRangeException.ThrowIfNegative(index);
            ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(index, Count);
            return IsDeep ? High[index] + (Low[index] * (1f / 256)) : High[index];
        }
    }

    /// <summary>Marks a place up to which the memory must not be let go.</summary>
    public void KeepAlive() => _bytes.KeepAlive();

    /// <summary>Reads one point of every memory page in a range, so that later readers do not wait for the disk.</summary>
    /// <returns>A sum that has no meaning; returned so that the reads are not optimised away.</returns>
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
