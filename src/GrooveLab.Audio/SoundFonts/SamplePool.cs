using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>The bank's sample chunk (<c>smpl</c>): 16-bit points, addressed by index as the sample headers do.</summary>
internal sealed unsafe class SamplePool
{
    /// <summary>The most points that a bank may have: a voice's place plus one step must still fit in 31 bits.</summary>
    public const int MaxCount = int.MaxValue - (1 << 21);

    private const int PageSize = 4096;
    private readonly BankBytes _bytes;
    private readonly short* _points;

    public SamplePool(BankBytes bytes, long offset, int count)
    {
        _bytes = bytes;
        _points = (short*)bytes.Address(offset);
        Count = count;
    }

    /// <summary>How many sample points there are.</summary>
    public int Count { get; }

    /// <summary>All points. Only valid while this pool is reachable.</summary>
    public ReadOnlySpan<short> Points => new(_points, Count);

    /// <summary>Reads one point of every memory page in a range, so that later readers do not wait for the disk.</summary>
    /// <returns>A sum that has no meaning; returned so that the reads are not optimised away.</returns>
    [MethodImpl(MethodImplOptions.NoInlining)]
    public int Touch(int start, int end)
    {
        var sum = 0;
        for (var i = Math.Max(0, start); i < Math.Min(end, Count); i += PageSize / sizeof(short))
            sum ^= _points[i];
        _bytes.KeepAlive();
        return sum;
    }
}
