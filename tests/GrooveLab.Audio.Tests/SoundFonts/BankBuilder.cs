using System.Text;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Writes small SoundFont files for tests, record by record after SoundFont 2.04, sections 4-7.</summary>
internal sealed class BankBuilder
{
    private readonly List<short> _points = [];
    private readonly List<byte> _compressed = [];
    private readonly List<(string Name, int Start, int End, int LoopStart, int LoopEnd, int Rate, int Key, int Correction, int Type)>
        _samples = [];

    private readonly List<(string Name, Zone[] Zones)> _instruments = [];
    private readonly List<(int Bank, int Program, string Name, Zone[] Zones)> _presets = [];

    public int AddSample(
        short[] points, int rate = 48000, int key = 60, int loopStart = 0, int loopEnd = 0, int correction = 0, int type = 1,
        string name = "sample")
    {
        var start = _points.Count;
        _points.AddRange(points);
        // Section 7.10: at least 46 points of silence after each sample.
        _points.AddRange(new short[46]);
        _samples.Add((name, start, start + points.Length, start + loopStart, start + loopEnd, rate, key, correction, type));
        return _samples.Count - 1;
    }

    /// <summary>The lower eight bits of all points so far, to be set separately from the upper ones; written as <c>sm24</c>.</summary>
    public byte[]? LowBits { get; set; }

    /// <summary>Adds a sample as a Vorbis stream, as in sf3 banks; the bank must not have samples of another kind.</summary>
    public int AddCompressed(byte[] stream, int rate, int key, int loopStart, int loopEnd)
    {
        var start = _compressed.Count;
        _compressed.AddRange(stream);
        _samples.Add(("vorbis", start, start + stream.Length, loopStart, loopEnd, rate, key, 0, 0x11));
        return _samples.Count - 1;
    }

    public int AddInstrument(params Zone[] zones)
    {
        _instruments.Add(($"instrument {_instruments.Count}", zones));
        return _instruments.Count - 1;
    }

    public BankBuilder AddPreset(int bank, int program, string name, params Zone[] zones)
    {
        _presets.Add((bank, program, name, zones));
        return this;
    }

    public byte[] Build()
    {
        var tables = new Dictionary<string, BinaryWriter>();
        BinaryWriter Table(string name)
        {
            if (!tables.TryGetValue(name, out var writer))
                tables[name] = writer = new BinaryWriter(new MemoryStream());
            return writer;
        }

        foreach (var (bank, program, name, zones) in _presets)
        {
            WriteName(Table("phdr"), name);
            WriteWords(Table("phdr"), program, bank, Count(Table("pbag"), 4));
            Table("phdr").Write(new byte[12]);
            WriteZones(zones, Table("pbag"), Table("pgen"), Table("pmod"));
        }
        WriteName(Table("phdr"), "EOP");
        WriteWords(Table("phdr"), 0, 0, Count(Table("pbag"), 4));
        Table("phdr").Write(new byte[12]);
        EndZones(Table("pbag"), Table("pgen"), Table("pmod"));

        foreach (var (name, zones) in _instruments)
        {
            WriteName(Table("inst"), name);
            WriteWords(Table("inst"), Count(Table("ibag"), 4));
            WriteZones(zones, Table("ibag"), Table("igen"), Table("imod"));
        }
        WriteName(Table("inst"), "EOI");
        WriteWords(Table("inst"), Count(Table("ibag"), 4));
        EndZones(Table("ibag"), Table("igen"), Table("imod"));

        foreach (var s in _samples)
        {
            WriteName(Table("shdr"), s.Name);
            foreach (var number in new[] { s.Start, s.End, s.LoopStart, s.LoopEnd, s.Rate })
                Table("shdr").Write(number);
            Table("shdr").Write((byte)s.Key);
            Table("shdr").Write((sbyte)s.Correction);
            WriteWords(Table("shdr"), 0, s.Type);
        }
        WriteName(Table("shdr"), "EOS");
        Table("shdr").Write(new byte[26]);

        var smpl = new BinaryWriter(new MemoryStream());
        foreach (var point in _points)
            smpl.Write(point);
        smpl.Write([.. _compressed]);

        var info = List("INFO", Chunk("ifil", [2, 0, 4, 0]), Chunk("isng", "EMU8000\0"u8.ToArray()), Chunk("INAM", "Test\0\0"u8.ToArray()));
        var sdta = LowBits is null
            ? List("sdta", Chunk("smpl", Bytes(smpl)))
            : List("sdta", Chunk("smpl", Bytes(smpl)), Chunk("sm24", LowBits));
        string[] order = ["phdr", "pbag", "pmod", "pgen", "inst", "ibag", "imod", "igen", "shdr"];
        var pdta = List("pdta", [.. order.Select(name => Chunk(name, Bytes(Table(name))))]);
        return Chunk("RIFF", [.. "sfbk"u8, .. info, .. sdta, .. pdta]);
    }

    private static void WriteZones(Zone[] zones, BinaryWriter bags, BinaryWriter generators, BinaryWriter modulators)
    {
        foreach (var zone in zones)
        {
            WriteWords(bags, Count(generators, 4), Count(modulators, 10));
            foreach (var (generator, amount) in zone.Generators)
                WriteWords(generators, (int)generator, amount);
            foreach (var m in zone.Modulators)
                WriteWords(modulators, m.Source, (int)m.Destination, m.Amount, m.AmountSource, m.Transform);
        }
    }

    private static void EndZones(BinaryWriter bags, BinaryWriter generators, BinaryWriter modulators)
    {
        WriteWords(bags, Count(generators, 4), Count(modulators, 10));
        WriteWords(generators, 0, 0);
        WriteWords(modulators, 0, 0, 0, 0, 0);
    }

    private static int Count(BinaryWriter table, int size)
    {
        table.Flush();
        return (int)(table.BaseStream.Length / size);
    }

    private static void WriteWords(BinaryWriter writer, params int[] words)
    {
        foreach (var word in words)
            writer.Write(unchecked((ushort)word));
    }

    private static void WriteName(BinaryWriter writer, string name)
    {
        var bytes = new byte[20];
        Encoding.ASCII.GetBytes(name, bytes);
        writer.Write(bytes);
    }

    private static byte[] Bytes(BinaryWriter writer)
    {
        writer.Flush();
        return ((MemoryStream)writer.BaseStream).ToArray();
    }

    private static byte[] List(string form, params byte[][] chunks) =>
        Chunk("LIST", [.. Encoding.ASCII.GetBytes(form), .. chunks.SelectMany(c => c)]);

    private static byte[] Chunk(string name, byte[] data) =>
        [.. Encoding.ASCII.GetBytes(name), .. BitConverter.GetBytes(data.Length), .. data, .. new byte[data.Length & 1]];

    /// <summary>One zone: generators in the given order, and modulators.</summary>
    internal sealed record Zone(params (GeneratorEnum Generator, int Amount)[] Generators)
    {
        public (int Source, GeneratorEnum Destination, int Amount, int AmountSource, int Transform)[] Modulators { get; init; } = [];

        public static int Range(int low, int high) => low | (high << 8);

        public Zone With(params (GeneratorEnum Generator, int Amount)[] more) =>
            // Range and index generators have fixed places: ranges first, the index last (8.1.2).
            new([.. more.Where(g => IsRange(g.Generator)), .. Generators.Where(g => IsRange(g.Generator)),
                .. more.Where(g => !IsRange(g.Generator)), .. Generators.Where(g => !IsRange(g.Generator))])
            { Modulators = Modulators };

        private static bool IsRange(GeneratorEnum generator) => generator is GeneratorEnum.KeyRange or GeneratorEnum.VelocityRange;
    }
}
