namespace GrooveLab.Audio.Vorbis;

/// <summary>
/// Decodes a Vorbis stream in Ogg pages to 16-bit points (Vorbis I; RFC 3533). All work is bounded by the bytes of the stream and by the
/// greatest number of points: no loop waits for anything, and no size that a header claims is believed.
/// </summary>
internal sealed class VorbisDecoder
{
    private const int Headers = 3;

    private readonly Setup _setup;
    private readonly InverseTransform _shortTransform;
    private readonly InverseTransform _longTransform;
    private readonly float[] _shortSlope;
    private readonly float[] _longSlope;
    private readonly int[][] _floorPoints;
    private readonly bool[] _isSilent;

    private VorbisDecoder(Setup setup)
    {
        _setup = setup;
        _shortTransform = new InverseTransform(setup.ShortBlock);
        _longTransform = new InverseTransform(setup.LongBlock);
        _shortSlope = Slope(setup.ShortBlock / 2);
        _longSlope = Slope(setup.LongBlock / 2);
        _floorPoints = new int[setup.Channels][];
        _isSilent = new bool[setup.Channels];
    }

    /// <summary>Decodes the first channel of a stream.</summary>
    /// <param name="stream">The pages.</param>
    /// <param name="mostPoints">The most points that it may have.</param>
    /// <param name="allocate">Makes the array for a number of points; it may be longer, and must be zero.</param>
    /// <returns>The array, and the number of points: as the stream's last position says, or all where it says nothing usable.</returns>
    /// <exception cref="InvalidDataException">The stream cannot be decoded; the message is a clause about it.</exception>
    public static (short[] Points, int Count) DecodeFirstChannel(ReadOnlySpan<byte> stream, int mostPoints, Func<int, short[]> allocate)
    {
        var packets = OggPackets.Read(stream);
        if (packets.Count < Headers)
            throw new InvalidDataException("its headers are missing");
        var decoder = new VorbisDecoder(Setup.Read(packets[0], packets[2]));
        var length = decoder.Length(packets);
        if (packets.LastPosition > 0)
            length = Math.Min(length, packets.LastPosition);
        if (length > mostPoints)
            throw new InvalidDataException($"it has {length} points, more than {mostPoints}");
        var points = allocate((int)length);
        decoder.Decode(packets, points.AsSpan(0, (int)length));
        return (points, (int)length);
    }

    /// <summary>The rising half of a window (section 1.3.2): the falling half is its mirror image.</summary>
    private static float[] Slope(int length) =>
    [
        .. Enumerable.Range(0, length).Select(i =>
        {
            var sine = Math.Sin((i + 0.5) / length * (Math.PI / 2));
            return (float)Math.Sin(Math.PI / 2 * sine * sine);
        }),
    ];

    /// <summary>The number of points that the packets give: each block overlaps with half of the one before.</summary>
    private long Length(OggPackets packets)
    {
        var length = 0L;
        var before = 0;
        for (var i = Headers; i < packets.Count; i++)
        {
            if (!TryStart(packets[i], out var start))
                continue;
            if (before != 0)
                length += (before / 4) + (start.Size / 4);
            before = start.Size;
        }
        return length;
    }

    /// <summary>Reads the beginning of an audio packet (section 4.3.1).</summary>
    /// <returns>Whether it is one; others are left out.</returns>
    private bool TryStart(ReadOnlySpan<byte> packet, out BlockStart start)
    {
        start = default;
        var bits = new BitReader(packet);
        if (bits.ReadFlag())
            return false;
        var number = (int)bits.Read(VorbisMath.Bits(_setup.Modes.Length - 1));
        if (number >= _setup.Modes.Length)
            return false;
        var mode = _setup.Modes[number];
        var isLongBefore = mode.IsLong && bits.ReadFlag();
        var isLongAfter = mode.IsLong && bits.ReadFlag();
        if (bits.HasEnded)
            return false;
        start = new BlockStart(mode.Mapping, mode.IsLong ? _setup.LongBlock : _setup.ShortBlock, isLongBefore, isLongAfter, (8 * packet.Length) - (int)bits.Left);
        return true;
    }

    private void Decode(OggPackets packets, Span<short> points)
    {
        unchecked
        {
            var before = new float[_setup.LongBlock];
            var block = new float[_setup.LongBlock];
            var sizeBefore = 0;
            for (var i = Headers; i < packets.Count && !points.IsEmpty; i++)
            {
                if (!TryStart(packets[i], out var start))
                    continue;
                DecodeBlock(packets[i], start, block.AsSpan(0, start.Size));
                if (sizeBefore != 0)
                {
                    var count = (sizeBefore / 4) + (start.Size / 4);
                    Overlap(before.AsSpan(sizeBefore / 2, sizeBefore / 2), block.AsSpan(0, start.Size / 2), points[..Math.Min(count, points.Length)], count);
                    points = points[Math.Min(count, points.Length)..];
                }
                (before, block) = (block, before);
                sizeBefore = start.Size;
            }
        }
    }

    /// <summary>Adds the falling half of one block and the rising half of the next; their middles are <paramref name="count"/> points apart.</summary>
    private static void Overlap(ReadOnlySpan<float> falling, ReadOnlySpan<float> rising, Span<short> points, int count)
    {
        unchecked
        {
            var lead = rising.Length - count;
            for (var i = 0; i < points.Length; i++)
            {
                var sum = i < falling.Length ? falling[i] : 0;
                if (i + lead >= 0)
                    sum += rising[i + lead];
                var scaled = MathF.Round(sum * 32768);
                // A comparison with no number is false.
                points[i] = scaled > short.MinValue ? (short)Math.Min(scaled, short.MaxValue) : scaled <= short.MinValue ? short.MinValue : (short)0;
            }
        }
    }

    private void DecodeBlock(ReadOnlySpan<byte> packet, in BlockStart start, Span<float> block)
    {
        unchecked
        {
            var bits = new BitReader(packet);
            bits.Peek();
            bits.Skip(start.Bits);
            var mapping = start.Mapping;
            var spectra = new float[_setup.Channels][];
            for (var channel = 0; channel < spectra.Length; channel++)
            {
                var floor = mapping.Floors[mapping.Submaps[channel]];
                spectra[channel] = new float[start.Size / 2];
                _floorPoints[channel] = floor.NewPoints();
                _isSilent[channel] = !floor.Decode(ref bits, _floorPoints[channel]);
            }
            var isFlat = _isSilent[0];
            foreach (var (magnitude, angle) in mapping.Couplings)
            {
                // Coupled channels are coded together: one that is silent may still carry the other's angle.
                if (!_isSilent[magnitude] || !_isSilent[angle])
                    _isSilent[magnitude] = _isSilent[angle] = false;
            }
            for (var submap = 0; submap < mapping.Residues.Length; submap++)
                DecodeResidue(ref bits, mapping, submap, spectra);
            for (var i = mapping.Couplings.Length - 1; i >= 0; i--)
                Decouple(spectra[mapping.Couplings[i].Magnitude], spectra[mapping.Couplings[i].Angle]);

            block.Clear();
            if (isFlat)
                return;
            mapping.Floors[mapping.Submaps[0]].Apply(_floorPoints[0], spectra[0]);
            var isLong = start.Size == _setup.LongBlock;
            (isLong ? _longTransform : _shortTransform).Transform(spectra[0], block);
            Window(block, start);
        }
    }

    private void DecodeResidue(ref BitReader bits, Mapping mapping, int submap, float[][] spectra)
    {
        var residue = mapping.Residues[submap];
        if (mapping.Residues.Length == 1)
        {
            residue.Decode(ref bits, spectra, _isSilent);
            return;
        }
        var own = Enumerable.Range(0, spectra.Length).Where(channel => mapping.Submaps[channel] == submap).ToArray();
        residue.Decode(ref bits, Array.ConvertAll(own, channel => spectra[channel]), Array.ConvertAll(own, channel => _isSilent[channel]));
    }

    /// <summary>Turns magnitude and angle into two channels (section 4.3.5).</summary>
    private static void Decouple(float[] magnitude, float[] angle)
    {
        unchecked
        {
            for (var i = 0; i < magnitude.Length; i++)
            {
                var (m, a) = (magnitude[i], angle[i]);
                (magnitude[i], angle[i]) = (m > 0, a > 0) switch
                {
                    (true, true) => (m, m - a),
                    (true, false) => (m + a, m),
                    (false, true) => (m, m + a),
                    (false, false) => (m - a, m),
                };
            }
        }
    }

    /// <summary>Fades a block in and out; between a long and a short block the fade is short and in the middle of the long half.</summary>
    private void Window(Span<float> block, in BlockStart start)
    {
        unchecked
        {
            var half = block.Length / 2;
            var rise = start.IsLongBefore ? _longSlope : _shortSlope;
            var fall = start.IsLongAfter ? _longSlope : _shortSlope;
            var lead = (half - rise.Length) / 2;
            block[..lead].Clear();
            for (var i = 0; i < rise.Length; i++)
                block[lead + i] *= rise[i];
            var tail = (half - fall.Length) / 2;
            block[(block.Length - tail)..].Clear();
            for (var i = 0; i < fall.Length; i++)
                block[half + tail + i] *= fall[fall.Length - 1 - i];
        }
    }

    /// <summary>The beginning of an audio packet.</summary>
    /// <param name="Mapping">Its mode's mapping.</param>
    /// <param name="Size">The block's length in points.</param>
    /// <param name="IsLongBefore">Whether it overlaps with a long block before it.</param>
    /// <param name="IsLongAfter">Whether it overlaps with a long block after it.</param>
    /// <param name="Bits">The bits that the beginning took.</param>
    private readonly record struct BlockStart(Mapping Mapping, int Size, bool IsLongBefore, bool IsLongAfter, int Bits);
}
