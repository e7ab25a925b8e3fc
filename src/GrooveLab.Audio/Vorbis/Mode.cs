namespace GrooveLab.Audio.Vorbis;

/// <summary>How a kind of packet is coded (Vorbis I, section 4.2.4).</summary>
internal sealed record Mode(bool IsLong, Mapping Mapping)
{
    /// <summary>Reads a mode from the setup header.</summary>
    /// <exception cref="InvalidDataException">It is invalid.</exception>
    public static Mode Read(ref BitReader bits, Mapping[] mappings)
    {
        var isLong = bits.ReadFlag();
        if (bits.Read(32) != 0)
            throw new InvalidDataException("a mode has an unknown window or transform");
        return new Mode(isLong, Setup.At(mappings, (int)bits.Read(8), "mapping"));
    }
}
