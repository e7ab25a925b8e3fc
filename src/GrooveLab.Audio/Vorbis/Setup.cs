namespace GrooveLab.Audio.Vorbis;

/// <summary>What the headers of a stream say (Vorbis I, section 4.2).</summary>
internal sealed class Setup
{
    private const int MostChannels = 8;

    private Setup(int channels, int shortBlock, int longBlock, Mode[] modes)
    {
        Channels = channels;
        ShortBlock = shortBlock;
        LongBlock = longBlock;
        Modes = modes;
    }

    /// <summary>The number of channels, 1 to 8.</summary>
    public int Channels { get; }

    /// <summary>The length of a short block in points: a power of two, 64 to 8,192.</summary>
    public int ShortBlock { get; }

    /// <summary>The length of a long block in points, at least that of a short one.</summary>
    public int LongBlock { get; }

    /// <summary>The modes; at least one.</summary>
    public Mode[] Modes { get; }

    /// <summary>Reads the identification header and the setup header; the comments between them do not matter.</summary>
    /// <exception cref="InvalidDataException">They are invalid; the message is a clause about the stream.</exception>
    public static Setup Read(ReadOnlySpan<byte> identification, ReadOnlySpan<byte> setup)
    {
        if (!identification.StartsWith("\u0001vorbis"u8))
            throw new InvalidDataException("it has no identification header");
        if (!setup.StartsWith("\u0005vorbis"u8))
            throw new InvalidDataException("it has no setup header");
        var bits = new BitReader(identification[7..]);
        var version = bits.Read(32);
        var channels = (int)bits.Read(8);
        for (var i = 0; i < 4; i++)
            bits.Read(32);
        var (shortBits, longBits) = ((int)bits.Read(4), (int)bits.Read(4));
        if (bits.HasEnded || version != 0 || shortBits is < 6 or > 13 || longBits is < 6 or > 13 || shortBits > longBits)
            throw new InvalidDataException("its identification header is invalid");
        if (channels is < 1 or > MostChannels)
            throw new InvalidDataException($"it has {channels} channels; this program reads 1 to {MostChannels}");

        bits = new BitReader(setup[7..]);
        var budget = new CodebookBudget();
        var books = new Codebook[bits.Read(8) + 1];
        for (var i = 0; i < books.Length; i++)
            books[i] = Codebook.Read(ref bits, ref budget);
        for (var rest = bits.Read(6) + 1; rest > 0; rest--)
        {
            if (bits.Read(16) != 0)
                throw new InvalidDataException("it has an unknown time transform");
        }
        var floors = new Floor[bits.Read(6) + 1];
        for (var i = 0; i < floors.Length; i++)
            floors[i] = Floor.Read(ref bits, books);
        var residues = new Residue[bits.Read(6) + 1];
        for (var i = 0; i < residues.Length; i++)
            residues[i] = Residue.Read(ref bits, books);
        var mappings = new Mapping[bits.Read(6) + 1];
        for (var i = 0; i < mappings.Length; i++)
            mappings[i] = Mapping.Read(ref bits, channels, floors, residues);
        var modes = new Mode[bits.Read(6) + 1];
        for (var i = 0; i < modes.Length; i++)
            modes[i] = Mode.Read(ref bits, mappings);
        if (!bits.ReadFlag())
            throw new InvalidDataException("its setup header is cut");
        return new Setup(channels, 1 << shortBits, 1 << longBits, modes);
    }

    /// <summary>One of the things that a header has listed before.</summary>
    /// <exception cref="InvalidDataException">There are not so many.</exception>
    public static T At<T>(T[] all, int index, string what) => index < all.Length
        ? all[index]
        : throw new InvalidDataException($"its setup header refers to {what} {index}, but there are only {all.Length}");
}
