using System.Numerics;

namespace GrooveLab.Audio.Vorbis;

/// <summary>A codebook (Vorbis I, section 3): codewords for entries, and for each entry a vector if it has values.</summary>
internal sealed class Codebook
{
    private const int FastBits = 10;
    private const int LengthBits = 6;
    private const int LongestCodeword = 32;

    // By the next ten bits: the entry and its length, or 0 where the codeword is longer or none.
    private readonly int[] _fast = new int[1 << FastBits];

    // All codewords from the highest bit of 32 down, ascending, with their entries.
    private readonly uint[] _codewords;
    private readonly int[] _entries;
    private readonly byte[] _lengths;

    private Codebook(int dimensions, byte[] lengths, float[]? values)
    {
        Dimensions = dimensions;
        Entries = lengths.Length;
        Values = values;
        _lengths = lengths;
        (_codewords, _entries) = Assign(lengths);
        Array.Sort(_codewords, _entries);
        FillFast();
    }

    /// <summary>The length of each entry's vector.</summary>
    public int Dimensions { get; }

    /// <summary>The number of entries, used or not.</summary>
    public int Entries { get; }

    /// <summary>The vectors of all entries one after the other; null if the book only gives numbers.</summary>
    public float[]? Values { get; }

    /// <summary>Reads a book from the setup header.</summary>
    /// <param name="bits">The header.</param>
    /// <param name="budget">How much the header's books may still hold, so that a few bytes cannot ask for gigabytes.</param>
    /// <exception cref="InvalidDataException">The book is invalid.</exception>
    public static Codebook Read(ref BitReader bits, ref CodebookBudget budget)
    {
        if (bits.Read(24) != 0x564342)
            throw new InvalidDataException("a codebook does not begin with its sign");
        var dimensions = (int)bits.Read(16);
        var entries = (int)bits.Read(24);
        budget.Take(entries, 0);
        var lengths = bits.ReadFlag() ? ReadOrdered(ref bits, entries) : ReadListed(ref bits, entries);
        var values = ReadValues(ref bits, dimensions, entries, ref budget);
        if (bits.HasEnded)
            throw new InvalidDataException("a codebook is cut");
        return new Codebook(dimensions, lengths, values);
    }

    /// <summary>The next entry; -1 at the end of the packet or where no codeword matches.</summary>
    public int Decode(ref BitReader bits)
    {
        unchecked
        {
            var next = bits.Peek();
            var fast = _fast[next & ((1 << FastBits) - 1)];
            if (fast != 0)
                return bits.Skip(fast & ((1 << LengthBits) - 1)) ? fast >> LengthBits : -1;
            var reversed = Reverse(next);
            var at = Array.BinarySearch(_codewords, reversed);
            if (at < 0)
                at = ~at - 1;
            if (at < 0)
                return -1;
            var entry = _entries[at];
            int length = _lengths[entry];
            return ((ulong)(reversed ^ _codewords[at]) >> (LongestCodeword - length)) == 0 && bits.Skip(length) ? entry : -1;
        }
    }

    private static byte[] ReadOrdered(ref BitReader bits, int entries)
    {
        var lengths = new byte[entries];
        var length = (int)bits.Read(5) + 1;
        for (var done = 0; done < entries; length++)
        {
            var count = (int)bits.Read(VorbisMath.Bits(entries - done));
            if (length > LongestCodeword || count > entries - done || bits.HasEnded)
                throw new InvalidDataException("a codebook has invalid codeword lengths");
            lengths.AsSpan(done, count).Fill((byte)length);
            done += count;
        }
        return lengths;
    }

    private static byte[] ReadListed(ref BitReader bits, int entries)
    {
        var isSparse = bits.ReadFlag();
        // Every entry takes at least one bit.
        if (entries > bits.Left)
            throw new InvalidDataException("a codebook is cut");
        var lengths = new byte[entries];
        for (var i = 0; i < entries; i++)
        {
            if (!isSparse || bits.ReadFlag())
                lengths[i] = (byte)(bits.Read(5) + 1);
        }
        return lengths;
    }

    private static float[]? ReadValues(ref BitReader bits, int dimensions, int entries, ref CodebookBudget budget)
    {
        var type = bits.Read(4);
        if (type == 0)
            return null;
        if (type > 2)
            throw new InvalidDataException($"a codebook has the unknown lookup type {type}");
        var least = VorbisMath.Unpack(bits.Read(32));
        var step = VorbisMath.Unpack(bits.Read(32));
        var width = (int)bits.Read(4) + 1;
        var isSequence = bits.ReadFlag();
        if (dimensions == 0 || entries == 0)
            throw new InvalidDataException("a codebook with values has none");
        budget.Take(0, (long)entries * dimensions);
        var steps = type == 1 ? LatticeSteps(entries, dimensions) : entries * dimensions;
        if ((long)steps * width > bits.Left)
            throw new InvalidDataException("a codebook is cut");
        var factors = new uint[steps];
        for (var i = 0; i < steps; i++)
            factors[i] = bits.Read(width);

        var values = new float[entries * dimensions];
        for (var entry = 0; entry < entries; entry++)
        {
            var last = 0f;
            var rest = entry;
            for (var i = 0; i < dimensions; i++)
            {
                var factor = type == 1 ? factors[rest % steps] : factors[(entry * dimensions) + i];
                rest /= steps;
                var value = (factor * step) + least + last;
                values[(entry * dimensions) + i] = value;
                if (isSequence)
                    last = value;
            }
        }
        return values;
    }

    /// <summary>The greatest number whose power to the dimensions is at most the number of entries (section 9.2.3).</summary>
    private static int LatticeSteps(int entries, int dimensions)
    {
        var steps = 1;
        while (Fits(steps + 1))
            steps++;
        return steps;

        bool Fits(int number)
        {
            var product = 1L;
            for (var i = 0; i < dimensions && product <= entries; i++)
                product *= number;
            return product <= entries;
        }
    }

    /// <summary>Gives each used entry in turn the lowest codeword of its length that is free (section 3.2.1).</summary>
    private static (uint[] Codewords, int[] Entries) Assign(byte[] lengths)
    {
        var codewords = new List<uint>();
        var entries = new List<int>();
        // The roots of the free subtrees: at most one at each depth, the deeper the further left.
        Span<uint> free = stackalloc uint[LongestCodeword + 1];
        free[0] = 0;
        var isFree = 1ul;
        unchecked
        {
            for (var entry = 0; entry < lengths.Length; entry++)
            {
                int length = lengths[entry];
                if (length == 0)
                    continue;
                var within = isFree & ((2ul << length) - 1);
                if (within == 0)
                    throw new InvalidDataException("a codebook has more codewords than its lengths allow");
                var depth = BitOperations.Log2(within);
                var codeword = free[depth];
                isFree &= ~(1ul << depth);
                while (depth < length)
                {
                    depth++;
                    free[depth] = codeword | (1u << (LongestCodeword - depth));
                    isFree |= 1ul << depth;
                }
                codewords.Add(codeword);
                entries.Add(entry);
            }
        }
        return ([.. codewords], [.. entries]);
    }

    private static uint Reverse(uint bits)
    {
        unchecked
        {
            bits = ((bits >> 1) & 0x55555555) | ((bits & 0x55555555) << 1);
            bits = ((bits >> 2) & 0x33333333) | ((bits & 0x33333333) << 2);
            bits = ((bits >> 4) & 0x0f0f0f0f) | ((bits & 0x0f0f0f0f) << 4);
            return System.Buffers.Binary.BinaryPrimitives.ReverseEndianness(bits);
        }
    }

    private void FillFast()
    {
        unchecked
        {
            if (_entries is [var only])
            {
                // A book of one entry takes one bit, whichever (section 3.2.1).
                Array.Fill(_fast, (only << LengthBits) | 1);
                return;
            }
            for (var i = 0; i < _entries.Length; i++)
            {
                int length = _lengths[_entries[i]];
                if (length > FastBits)
                    continue;
                for (var bits = Reverse(_codewords[i]); bits < 1 << FastBits; bits += 1u << length)
                    _fast[bits] = (_entries[i] << LengthBits) | length;
            }
        }
    }
}
