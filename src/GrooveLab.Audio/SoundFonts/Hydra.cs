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

    private int Count(string table) => _tables[table].Length / RecordSizes[table];

    private ushort Word(string table, int record, int offset) =>
        BinaryPrimitives.ReadUInt16LittleEndian(_tables[table].AsSpan((record * RecordSizes[table]) + offset, 2));

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
        var limit = Count(target) - 1;
        var last = 0;
        for (var i = 0; i < Count(table); i++)
        {
            var index = Word(table, i, offset);
            if (index < last)
                throw Bad(table, i, $"its {target} index {index} is less than the one before it, {last}");
            if (index > limit)
                throw Bad(table, i, $"its {target} index {index} is past the last record, {limit}");
            last = index;
        }
    }

    private void CheckLinks(string table, int generator, string target)
    {
        var records = Count(target) - 1;
        for (var i = 0; i < Count(table) - 1; i++)
        {
            if (Word(table, i, 0) == generator && Word(table, i, 2) >= records)
                throw Bad(table, i, $"it refers to {target} record {Word(table, i, 2)}, but there are only {records}");
        }
    }

    private void CheckGrowth()
    {
        for (var preset = 0; preset < Count("phdr") - 1; preset++)
        {
            long regions = 0;
            for (var bag = (int)Word("phdr", preset, 24); bag < Word("phdr", preset + 1, 24); bag++)
            {
                for (var gen = (int)Word("pbag", bag, 0); gen < Word("pbag", bag + 1, 0); gen++)
                {
                    if (Word("pgen", gen, 0) != InstrumentGenerator)
                        continue;
                    var instrument = Word("pgen", gen, 2);
                    regions += Word("inst", instrument + 1, 20) - Word("inst", instrument, 20);
                }
            }
            if (regions > MaxRegionsPerPreset)
                throw Bad("phdr", preset, $"its zones multiply to {regions} regions, more than {MaxRegionsPerPreset}");
        }
    }
}
