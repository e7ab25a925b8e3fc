namespace GrooveLab.Audio.Vorbis;

/// <summary>The fine structure of spectra, as sums of vectors from codebooks (Vorbis I, section 8).</summary>
internal sealed class Residue
{
    private const int Passes = 8;
    private static readonly bool[] Heard = [false];

    private readonly int _type;
    private readonly int _begin;
    private readonly int _end;
    private readonly int _partitionSize;
    private readonly int _classes;
    private readonly Codebook _classBook;
    private readonly Codebook?[] _books;

    private Residue(int type, int begin, int end, int partitionSize, int classes, Codebook classBook, Codebook?[] books)
    {
        _type = type;
        _begin = begin;
        _end = end;
        _partitionSize = partitionSize;
        _classes = classes;
        _classBook = classBook;
        _books = books;
    }

    /// <summary>Reads a residue from the setup header.</summary>
    /// <exception cref="InvalidDataException">It is invalid.</exception>
    public static Residue Read(ref BitReader bits, Codebook[] books)
    {
        var type = (int)bits.Read(16);
        if (type > 2)
            throw new InvalidDataException($"it uses the unknown residue type {type}");
        var begin = (int)bits.Read(24);
        var end = (int)bits.Read(24);
        var partitionSize = (int)bits.Read(24) + 1;
        var classes = (int)bits.Read(6) + 1;
        var classBook = Setup.At(books, (int)bits.Read(8), "codebook");
        if (classBook.Dimensions == 0)
            throw new InvalidDataException("a residue has a codebook without dimensions");
        var passes = new int[classes];
        for (var i = 0; i < classes; i++)
        {
            passes[i] = (int)bits.Read(3);
            if (bits.ReadFlag())
                passes[i] |= (int)bits.Read(5) << 3;
        }
        var used = new Codebook?[classes * Passes];
        for (var i = 0; i < used.Length; i++)
        {
            if ((passes[i / Passes] & (1 << (i % Passes))) == 0)
                continue;
            var book = Setup.At(books, (int)bits.Read(8), "codebook");
            if (book.Values is null)
                throw new InvalidDataException("a residue has a codebook without values");
            used[i] = book;
        }
        return new Residue(type, begin, end, partitionSize, classes, classBook, used);
    }

    /// <summary>Adds one packet's vectors to some spectra. At the packet's end the rest stays as it is.</summary>
    /// <param name="bits">The packet.</param>
    /// <param name="spectra">A spectrum for each channel of the submap.</param>
    /// <param name="isSilent">Whether a channel has no spectrum in this packet.</param>
    public void Decode(ref BitReader bits, ReadOnlySpan<float[]> spectra, ReadOnlySpan<bool> isSilent)
    {
        if (spectra.IsEmpty || !isSilent.Contains(false))
            return;
        if (_type != 2)
        {
            Decode(ref bits, spectra, isSilent, spectra[0].Length);
            return;
        }
        if (spectra.Length == 1)
        {
            Decode(ref bits, spectra, Heard, spectra[0].Length);
            return;
        }

        // Type 2 is one vector in which the channels take turns.
        unchecked
        {
            var channels = spectra.Length;
            var together = new float[channels * spectra[0].Length];
            float[][] one = [together];
            Decode(ref bits, one, Heard, together.Length);
            for (var i = 0; i < together.Length; i++)
                spectra[i % channels][i / channels] += together[i];
        }
    }

    private void Decode(ref BitReader bits, ReadOnlySpan<float[]> vectors, ReadOnlySpan<bool> isSilent, int length)
    {
        unchecked
        {
            var begin = Math.Min(_begin, length);
            var partitions = Math.Max(0, Math.Min(_end, length) - begin) / _partitionSize;
            var group = _classBook.Dimensions;
            var classes = new int[vectors.Length * partitions];
            for (var pass = 0; pass < Passes; pass++)
            {
                for (var partition = 0; partition < partitions; partition++)
                {
                    for (var v = 0; pass == 0 && partition % group == 0 && v < vectors.Length; v++)
                    {
                        if (!isSilent[v] && !ReadClasses(ref bits, classes.AsSpan(v * partitions, partitions)[partition..]))
                            return;
                    }
                    for (var v = 0; v < vectors.Length; v++)
                    {
                        if (isSilent[v] || _books[(classes[(v * partitions) + partition] * Passes) + pass] is not { } book)
                            continue;
                        var target = vectors[v].AsSpan(begin + (partition * _partitionSize), _partitionSize);
                        if (!(_type == 0 ? AddSpread(ref bits, book, target) : Add(ref bits, book, target)))
                            return;
                    }
                }
            }
        }
    }

    /// <summary>Reads the classes of the next partitions, which share one codeword as the digits of a number.</summary>
    private bool ReadClasses(ref BitReader bits, Span<int> classes)
    {
        unchecked
        {
            var digits = _classBook.Decode(ref bits);
            if (digits < 0)
                return false;
            classes[..Math.Min(classes.Length, _classBook.Dimensions)].Clear();
            // The remaining digits are zero; a book may claim thousands of them for one bit.
            for (var i = _classBook.Dimensions - 1; i >= 0 && digits > 0 && _classes > 1; i--)
            {
                if (i < classes.Length)
                    classes[i] = digits % _classes;
                digits /= _classes;
            }
            return true;
        }
    }

    private static bool Add(ref BitReader bits, Codebook book, Span<float> target)
    {
        unchecked
        {
            var values = book.Values!;
            for (var at = 0; at < target.Length;)
            {
                var entry = book.Decode(ref bits);
                if (entry < 0)
                    return false;
                var vector = values.AsSpan(entry * book.Dimensions, Math.Min(book.Dimensions, target.Length - at));
                for (var i = 0; i < vector.Length; i++)
                    target[at + i] += vector[i];
                at += vector.Length;
            }
            return true;
        }
    }

    private static bool AddSpread(ref BitReader bits, Codebook book, Span<float> target)
    {
        unchecked
        {
            var values = book.Values!;
            var step = target.Length / book.Dimensions;
            for (var at = 0; at < step; at++)
            {
                var entry = book.Decode(ref bits);
                if (entry < 0)
                    return false;
                for (var i = 0; i < book.Dimensions; i++)
                    target[at + (i * step)] += values[(entry * book.Dimensions) + i];
            }
            return true;
        }
    }
}
