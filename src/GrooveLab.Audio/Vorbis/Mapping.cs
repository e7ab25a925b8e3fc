namespace GrooveLab.Audio.Vorbis;

/// <summary>Which floor and residue each channel has, and which channels are coupled (Vorbis I, section 4.2.4).</summary>
internal sealed record Mapping((int Magnitude, int Angle)[] Couplings, int[] Submaps, Floor[] Floors, Residue[] Residues)
{
    /// <summary>Reads a mapping from the setup header.</summary>
    /// <exception cref="InvalidDataException">It is invalid.</exception>
    public static Mapping Read(ref BitReader bits, int channels, Floor[] floors, Residue[] residues)
    {
        var type = bits.Read(16);
        if (type != 0)
            throw new InvalidDataException($"it uses the unknown mapping type {type}");
        var submaps = bits.ReadFlag() ? (int)bits.Read(4) + 1 : 1;
        var couplings = new (int Magnitude, int Angle)[bits.ReadFlag() ? (int)bits.Read(8) + 1 : 0];
        var width = VorbisMath.Bits(channels - 1);
        for (var i = 0; i < couplings.Length; i++)
        {
            couplings[i] = ((int)bits.Read(width), (int)bits.Read(width));
            if (couplings[i].Magnitude == couplings[i].Angle || Math.Max(couplings[i].Magnitude, couplings[i].Angle) >= channels)
                throw new InvalidDataException("a mapping couples channels that do not exist");
        }
        if (bits.Read(2) != 0)
            throw new InvalidDataException("a mapping has reserved bits");
        var ofChannels = new int[channels];
        for (var i = 0; submaps > 1 && i < channels; i++)
        {
            ofChannels[i] = (int)bits.Read(4);
            if (ofChannels[i] >= submaps)
                throw new InvalidDataException("a mapping refers to a submap that does not exist");
        }
        var itsFloors = new Floor[submaps];
        var itsResidues = new Residue[submaps];
        for (var i = 0; i < submaps; i++)
        {
            bits.Read(8);
            itsFloors[i] = Setup.At(floors, (int)bits.Read(8), "floor");
            itsResidues[i] = Setup.At(residues, (int)bits.Read(8), "residue");
        }
        return new Mapping(couplings, ofChannels, itsFloors, itsResidues);
    }
}
