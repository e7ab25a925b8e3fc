namespace GrooveLab.Audio.Vorbis;

/// <summary>The coarse shape of a spectrum as straight lines over a decibel scale: floor type 1 (Vorbis I, section 7).</summary>
internal sealed class Floor
{
    private const int MostPoints = 65;
    private static readonly int[] Ranges = [256, 128, 86, 64];

    // The table of section 10.1: 256 steps of 140/256 dB up to 0 dB, which it lists as numbers.
    private static readonly float[] Amplitudes =
        [.. Enumerable.Range(0, 256).Select(step => (float)Math.Pow(10, (step - 255) * (140.0 / 256) / 20))];

    private readonly int[] _partitions;
    private readonly PointClass[] _classes;
    private readonly int _multiplier;
    private readonly int _range;
    private readonly int[] _x;
    private readonly int[] _order;
    private readonly int[] _low;
    private readonly int[] _high;

    private Floor(int[] partitions, PointClass[] classes, int multiplier, int[] x)
    {
        _partitions = partitions;
        _classes = classes;
        _multiplier = multiplier;
        _range = Ranges[multiplier - 1];
        _x = x;
        _order = [.. Enumerable.Range(0, x.Length).OrderBy(i => x[i])];
        _low = [.. x.Select((at, i) => Nearest(i, other => x[other] < at, other => x[other]))];
        _high = [.. x.Select((at, i) => Nearest(i, other => x[other] > at, other => -x[other]))];

        // Of the points before one, the closest on a side.
        int Nearest(int i, Func<int, bool> isOnSide, Func<int, int> closeness) =>
            i < 2 ? 0 : Enumerable.Range(0, i).Where(isOnSide).MaxBy(closeness);
    }

    /// <summary>Reads a floor from the setup header.</summary>
    /// <exception cref="InvalidDataException">It is invalid, or of type 0.</exception>
    public static Floor Read(ref BitReader bits, Codebook[] books)
    {
        var type = bits.Read(16);
        if (type != 1)
            throw new InvalidDataException($"it uses floor type {type}; this program reads type 1");
        var partitions = new int[bits.Read(5)];
        for (var i = 0; i < partitions.Length; i++)
            partitions[i] = (int)bits.Read(4);
        var classes = new PointClass[partitions.Length == 0 ? 0 : partitions.Max() + 1];
        for (var i = 0; i < classes.Length; i++)
            classes[i] = PointClass.Read(ref bits, books);
        var multiplier = (int)bits.Read(2) + 1;
        var width = (int)bits.Read(4);
        var x = new List<int> { 0, 1 << width };
        foreach (var partition in partitions)
        {
            for (var i = 0; i < classes[partition].Dimensions; i++)
                x.Add((int)bits.Read(width));
        }
        if (x.Count > MostPoints || x.Distinct().Count() != x.Count || bits.HasEnded)
            throw new InvalidDataException("a floor has invalid points");
        return new Floor(partitions, classes, multiplier, [.. x]);
    }

    /// <summary>Room for the points that <see cref="Decode"/> gives.</summary>
    public int[] NewPoints() => new int[_x.Length];

    /// <summary>Reads the points of one channel in one packet.</summary>
    /// <returns>Whether the channel has a spectrum here.</returns>
    public bool Decode(ref BitReader bits, int[] y)
    {
        unchecked
        {
            if (!bits.ReadFlag())
                return false;
            var width = VorbisMath.Bits(_range - 1);
            y[0] = (int)bits.Read(width);
            y[1] = (int)bits.Read(width);
            var at = 2;
            foreach (var partition in _partitions)
            {
                var kind = _classes[partition];
                var choice = 0;
                if (kind.Master is { } master && (choice = master.Decode(ref bits)) < 0)
                    return false;
                for (var i = 0; i < kind.Dimensions; i++)
                {
                    var book = kind.Books[choice & (kind.Books.Length - 1)];
                    choice >>= kind.ChoiceBits;
                    var value = book is null ? 0 : book.Decode(ref bits);
                    if (value < 0)
                        return false;
                    y[at++] = value;
                }
            }
            return !bits.HasEnded;
        }
    }

    /// <summary>Multiplies a spectrum by the curve through the points (section 7.2.4).</summary>
    /// <param name="y">The points; they are overwritten.</param>
    /// <param name="spectrum">The spectrum.</param>
    public void Apply(int[] y, Span<float> spectrum)
    {
        unchecked
        {
            Span<bool> isUsed = stackalloc bool[MostPoints];
            isUsed[0] = isUsed[1] = true;
            for (var i = 2; i < y.Length; i++)
                y[i] = Height(i, y, isUsed);

            var (fromX, fromY) = (0, y[0] * _multiplier);
            foreach (var i in _order.AsSpan(1))
            {
                if (!isUsed[i])
                    continue;
                var (toX, toY) = (_x[i], y[i] * _multiplier);
                Line(fromX, fromY, toX, toY, spectrum);
                (fromX, fromY) = (toX, toY);
            }
            if (fromX < spectrum.Length)
                Line(fromX, fromY, spectrum.Length, fromY, spectrum);
        }
    }

    private int Height(int i, int[] y, Span<bool> isUsed)
    {
        unchecked
        {
            var (low, high) = (_low[i], _high[i]);
            var predicted = On(_x[low], y[low], _x[high], y[high], _x[i]);
            var value = y[i];
            isUsed[i] = value != 0;
            if (value == 0)
                return predicted;
            isUsed[low] = isUsed[high] = true;
            var above = _range - predicted;
            var below = predicted;
            if (value >= 2 * Math.Min(above, below))
                return above > below ? value - below + predicted : predicted - value + above - 1;
            return (value & 1) != 0 ? predicted - ((value + 1) / 2) : predicted + (value / 2);
        }
    }

    private static int On(int x0, int y0, int x1, int y1, int x)
    {
        unchecked
        {
            var offset = Math.Abs(y1 - y0) * (x - x0) / (x1 - x0);
            return y1 < y0 ? y0 - offset : y0 + offset;
        }
    }

    private static void Line(int x0, int y0, int x1, int y1, Span<float> spectrum)
    {
        unchecked
        {
            var width = x1 - x0;
            var whole = (y1 - y0) / width;
            var rest = Math.Abs(y1 - y0) - (Math.Abs(whole) * width);
            var sign = y1 < y0 ? -1 : 1;
            var error = 0;
            var y = y0;
            for (var x = x0; x < Math.Min(x1, spectrum.Length); x++)
            {
                spectrum[x] *= Amplitudes[Math.Clamp(y, 0, Amplitudes.Length - 1)];
                y += whole;
                error += rest;
                if (error >= width)
                {
                    error -= width;
                    y += sign;
                }
            }
        }
    }

    /// <summary>A class of points that share their books.</summary>
    private sealed record PointClass(int Dimensions, int ChoiceBits, Codebook? Master, Codebook?[] Books)
    {
        public static PointClass Read(ref BitReader bits, Codebook[] books)
        {
            var dimensions = (int)bits.Read(3) + 1;
            var choiceBits = (int)bits.Read(2);
            var master = choiceBits == 0 ? null : Setup.At(books, (int)bits.Read(8), "codebook");
            var choices = new Codebook?[1 << choiceBits];
            for (var i = 0; i < choices.Length; i++)
            {
                var book = (int)bits.Read(8) - 1;
                choices[i] = book < 0 ? null : Setup.At(books, book, "codebook");
            }
            return new PointClass(dimensions, choiceBits, master, choices);
        }
    }
}
