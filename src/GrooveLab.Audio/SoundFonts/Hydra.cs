using System.Buffers.Binary;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// Checks the nine linked tables of a bank (section 7) before anything follows their indices: record sizes, terminal records,
/// indices that must not decrease or point outside, and the number of regions that the zones multiply to.
/// </summary>
internal sealed class Hydra
{
    /// <summary>
    /// The most regions that one preset may resolve to. Large real presets have a few thousand; zones that refer to each other
    /// can multiply a small file into billions.
    /// </summary>
    public const int MaxRegionsPerPreset = 65_536;

    private const int InstrumentGenerator = 41;
    private const int SampleGenerator = 53;

    private static readonly Dictionary<string, int> RecordSizes = new(StringComparer.Ordinal)
    {
        ["phdr"] = 38,
        ["pbag"] = 4,
        ["pmod"] = 10,
        ["pgen"] = 4,
        ["inst"] = 22,
        ["ibag"] = 4,
        ["imod"] = 10,
        ["igen"] = 4,
        ["shdr"] = 46,
    };

    private const int MaxRecords = 16_777_216;

    private readonly Dictionary<string, byte[]> _tables;
    private readonly string _bankName;

    private Hydra(Dictionary<string, byte[]> tables, string bankName)
    {
        _tables = tables;
        _bankName = bankName;
    }

    /// <summary>Reads and checks all tables.</summary>
    /// <returns>The tables by name.</returns>
    /// <exception cref="SoundFontException">A record is invalid; the first one is reported.</exception>
    public static IReadOnlyDictionary<string, byte[]> Read(BankBytes bytes, RiffLayout layout, string bankName)
    {
        var tables = new Dictionary<string, byte[]>(StringComparer.Ordinal);
        foreach (var name in RiffLayout.HydraNames)
        {
            CheckSize(name, layout[name].Length, bankName);
            tables.Add(name, bytes.Read(layout[name].Offset, (int)layout[name].Length));
        }
        var hydra = new Hydra(tables, bankName);
        hydra.CheckIndices("phdr", 24, "pbag");
        hydra.CheckIndices("pbag", 0, "pgen");
        hydra.CheckIndices("pbag", 2, "pmod");
        hydra.CheckIndices("inst", 20, "ibag");
        hydra.CheckIndices("ibag", 0, "igen");
        hydra.CheckIndices("ibag", 2, "imod");
        hydra.CheckLinks("pgen", InstrumentGenerator, "inst");
        hydra.CheckLinks("igen", SampleGenerator, "shdr");
        hydra.CheckGrowth();
        return tables;
    }

    private Table Of(string table) => new(_tables[table], RecordSizes[table]);

    private SoundFontException Bad(string table, int record, string reason) =>
        new($"{_bankName}: {table} record {record}", reason);

    private static void CheckSize(string table, long length, string bankName)
    {
        var size = RecordSizes[table];
        if (length % size != 0)
            throw new SoundFontException($"{bankName}: {table}", $"{length} bytes are not a whole number of {size}-byte records");
        if (length < size)
            throw new SoundFontException($"{bankName}: {table}", "the terminal record is missing");
        if (length / size > MaxRecords || length > int.MaxValue / 16)
            throw new SoundFontException($"{bankName}: {table}", $"too many records: {length / size}");
    }

    private void CheckIndices(string table, int offset, string target)
    {
        var limit = Of(target).Count - 1;
        var records = Of(table);
        var last = 0;
        for (var i = 0; i < records.Count; i++)
        {
            var index = records.Word(i, offset);
            if (index < last)
                throw Bad(table, i, $"its {target} index {index} is less than the one before it, {last}");
            if (index > limit)
                throw Bad(table, i, $"its {target} index {index} is past the last record, {limit}");
            last = index;
        }
    }

    private void CheckLinks(string table, int generator, string target)
    {
        var most = Of(target).Count - 1;
        var records = Of(table);
        for (var i = 0; i < records.Count - 1; i++)
        {
            if (records.Word(i, 0) == generator && records.Word(i, 2) >= most)
                throw Bad(table, i, $"it refers to {target} record {records.Word(i, 2)}, but there are only {most}");
        }
    }

    private void CheckGrowth()
    {
        var (presets, bags, generators, instruments) = (Of("phdr"), Of("pbag"), Of("pgen"), Of("inst"));
        for (var preset = 0; preset < presets.Count - 1; preset++)
        {
            long regions = 0;
            for (var bag = (int)presets.Word(preset, 24); bag < presets.Word(preset + 1, 24); bag++)
            {
                for (var gen = (int)bags.Word(bag, 0); gen < bags.Word(bag + 1, 0); gen++)
                {
                    if (generators.Word(gen, 0) != InstrumentGenerator)
                        continue;
                    var instrument = generators.Word(gen, 2);
                    regions += instruments.Word(instrument + 1, 20) - instruments.Word(instrument, 20);
                }
            }
            if (regions > MaxRegionsPerPreset)
                throw Bad("phdr", preset, $"its zones multiply to {regions} regions, more than {MaxRegionsPerPreset}");
        }
    }

    /// <summary>The records of one table.</summary>
    private readonly struct Table(byte[] bytes, int recordSize)
    {
        public int Count { get; } = bytes.Length / recordSize;

        public ushort Word(int record, int offset) => BinaryPrimitives.ReadUInt16LittleEndian(bytes.AsSpan((record * recordSize) + offset, 2));
    }
}
