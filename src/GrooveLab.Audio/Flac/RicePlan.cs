using System.Numerics;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Flac;

/// <summary>
/// The smallest partitioned Rice code for a residual: how many partitions, and the parameter of each. Source: RFC 9639, section 9.2.7.
/// </summary>
/// <remarks>Every order of partitions and every parameter is counted exactly; escaped partitions are not used.</remarks>
internal sealed class RicePlan
{
    /// <summary>The highest order of partitions; up to 8 are in the format's streamable subset.</summary>
    public const int MostOrder = 6;

    private const int MethodBits = 2;
    private const int OrderBits = 4;

    // The highest parameter of each coding method; one more is the escape code.
    private const int MostNarrow = 14;
    private const int MostWide = 30;
    private const int Parameters = MostWide + 1;

    // Below this, the sum of one lane and of one partition stays in 32 bits, if no partition of vectors is longer than VectorPartition.
    private const uint VectorLimit = 1 << 25;
    private const int VectorPartition = 64;

    private readonly byte[] _parameters = new byte[1 << MostOrder];
    private readonly byte[] _tried = new byte[1 << MostOrder];

    // For each partition, the sum of the quotients for each parameter.
    private readonly ulong[] _quotients = new ulong[(1 << MostOrder) * Parameters];

    /// <summary>The size of the coded residual in bits, with its header.</summary>
    public long Bits { get; private set; }

    /// <summary>The logarithm of the number of partitions.</summary>
    public int Order { get; private set; }

    /// <summary>True if parameters have 5 bits instead of 4.</summary>
    public bool IsWide { get; private set; }

    /// <summary>The parameter of each partition.</summary>
    public ReadOnlySpan<byte> PartitionParameters => _parameters.AsSpan(0, 1 << Order);

    /// <summary>A residual as an unsigned number: 0, -1, 1, -2, 2 and so on become 0, 1, 2, 3, 4.</summary>
    public static uint Folded(int residual) => unchecked((uint)((residual << 1) ^ (residual >> 31)));

    /// <summary>Finds the smallest code.</summary>
    /// <param name="folded">The folded residual of the whole block; the entries of the warm-up samples are 0.</param>
    /// <param name="warmUp">The number of warm-up samples, which are not coded here.</param>
    public void Find(ReadOnlySpan<uint> folded, int warmUp)
    {
        var finest = FinestOrder(folded.Length, warmUp);
        uint all = 0;
        foreach (var value in folded)
        {
            all |= value;
        }

        var most = Math.Min(32 - BitOperations.LeadingZeroCount(all), MostWide);
        Sum(folded, finest, most, isSmall: all < VectorLimit);
        Bits = long.MaxValue;
        for (var order = finest; ; order--)
        {
            var length = folded.Length >> order;
            Try(order, length, warmUp, Math.Min(most, MostNarrow), isWide: false);
            if (most > MostNarrow)
            {
                Try(order, length, warmUp, most, isWide: true);
            }

            if (order == 0)
            {
                return;
            }

            Join(order, most);
        }
    }

    /// <summary>Writes the header and the code of a residual for which the plan was found.</summary>
    public void Write(FlacBits bits, ReadOnlySpan<uint> folded, int warmUp)
    {
        bits.Write(IsWide ? 1 : 0, MethodBits);
        bits.Write(Order, OrderBits);
        var length = folded.Length >> Order;
        for (var partition = 0; partition < 1 << Order; partition++)
        {
            int parameter = _parameters[partition];
            bits.Write(parameter, IsWide ? 5 : 4);
            foreach (var value in folded[(partition == 0 ? warmUp : partition * length)..((partition + 1) * length)])
            {
                bits.WriteUnary(value >> parameter);
                bits.Write(value, parameter);
            }
        }
    }

    // Partitions are equally long, and the first is longer than the warm-up.
    private static int FinestOrder(int length, int warmUp)
    {
        var order = Math.Min(MostOrder, BitOperations.TrailingZeroCount(length));
        while (order > 0 && length >> order <= warmUp)
        {
            order--;
        }

        return order;
    }

    private void Sum(ReadOnlySpan<uint> folded, int order, int most, bool isSmall)
    {
        var length = folded.Length >> order;
        var byVectors = isSmall && length <= VectorPartition && length % Vector256<uint>.Count == 0;
        for (var partition = 0; partition < 1 << order; partition++)
        {
            var values = folded.Slice(partition * length, length);
            for (var parameter = 0; parameter <= most; parameter++)
            {
                _quotients[(partition * Parameters) + parameter] = byVectors ? SumByVectors(values, parameter) : SumByOne(values, parameter);
            }
        }
    }

    private static ulong SumByVectors(ReadOnlySpan<uint> values, int parameter)
    {
        var sum = Vector256<uint>.Zero;
        for (var i = 0; i < values.Length; i += Vector256<uint>.Count)
        {
            sum += Vector256.Create(values[i..]) >> parameter;
        }

        return Vector256.Sum(sum);
    }

    private static ulong SumByOne(ReadOnlySpan<uint> values, int parameter)
    {
        ulong sum = 0;
        foreach (var value in values)
        {
            sum += value >> parameter;
        }

        return sum;
    }

    private void Join(int order, int most)
    {
        for (var partition = 0; partition < 1 << (order - 1); partition++)
        {
            for (var parameter = 0; parameter <= most; parameter++)
            {
                _quotients[(partition * Parameters) + parameter] =
                    _quotients[(2 * partition * Parameters) + parameter] + _quotients[(((2 * partition) + 1) * Parameters) + parameter];
            }
        }
    }

    private void Try(int order, int length, int warmUp, int most, bool isWide)
    {
        long bits = MethodBits + OrderBits;
        for (var partition = 0; partition < 1 << order; partition++)
        {
            long count = length - (partition == 0 ? warmUp : 0);
            var least = long.MaxValue;
            for (var parameter = 0; parameter <= most; parameter++)
            {
                var needed = (count * (parameter + 1)) + (long)_quotients[(partition * Parameters) + parameter];
                if (needed < least)
                {
                    least = needed;
                    _tried[partition] = (byte)parameter;
                }
            }

            bits += least + (isWide ? 5 : 4);
        }

        if (bits < Bits)
        {
            (Bits, Order, IsWide) = (bits, order, isWide);
            _tried.AsSpan(0, 1 << order).CopyTo(_parameters);
        }
    }
}
