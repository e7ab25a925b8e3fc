using System.Buffers.Binary;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The places of a SoundFont file's chunks (section 4), found by walking the RIFF structure once and checking every size.
/// </summary>
internal sealed class RiffLayout
{
    private const int HeaderSize = 8;
    private static readonly string[] HydraOrder = ["phdr", "pbag", "pmod", "pgen", "inst", "ibag", "imod", "igen", "shdr"];

    private readonly Dictionary<string, Chunk> _chunks = [];

    private RiffLayout()
    {
    }

    /// <summary>The nine sub-chunks of <c>pdta</c> in the order of section 7.1.</summary>
    public static IReadOnlyList<string> HydraNames => HydraOrder;

    /// <summary>Finds a sub-chunk by its four letters.</summary>
    public bool TryGet(string name, out Chunk chunk) => _chunks.TryGetValue(name, out chunk);

    /// <summary>A sub-chunk that the walk has already required.</summary>
    public Chunk this[string name] => _chunks[name];

    public static RiffLayout Read(BankBytes bytes, string bankName)
    {
        if (bytes.Length < 12)
            throw new SoundFontException(bankName, $"too short for a SoundFont file: {bytes.Length} bytes");
        if (Name(bytes, 0) is not "RIFF" || Name(bytes, 8) is not "sfbk")
            throw new SoundFontException($"{bankName}: byte 0", "not a SoundFont file (no RIFF header of form sfbk)");
        var end = HeaderSize + (long)Size(bytes, 4);
        if (end > bytes.Length)
            throw new SoundFontException($"{bankName}: byte 4", $"the file should be {end} bytes long but has {bytes.Length}");

        var layout = new RiffLayout();
        foreach (var (list, at) in Walk(bytes, 12, end, bankName))
        {
            if (list is not "LIST" || at.Length < 4)
                continue;
            var form = Name(bytes, at.Offset);
            if (form is not ("INFO" or "sdta" or "pdta"))
                continue;
            foreach (var (name, chunk) in Walk(bytes, at.Offset + 4, at.Offset + at.Length, $"{bankName}: LIST {form}"))
            {
                if (!layout._chunks.TryAdd(name, chunk) && form is not "INFO")
                    throw new SoundFontException($"{bankName}: {name}", "the chunk occurs twice");
            }
        }
        foreach (var name in HydraOrder)
        {
            if (!layout._chunks.ContainsKey(name))
                throw new SoundFontException($"{bankName}: LIST pdta", $"the {name} chunk is missing");
        }
        if (!layout._chunks.ContainsKey("ifil"))
            throw new SoundFontException($"{bankName}: LIST INFO", "the ifil chunk (version) is missing");
        if (!layout._chunks.ContainsKey("smpl"))
            throw new SoundFontException($"{bankName}: LIST sdta", "the smpl chunk is missing: the bank has only ROM samples");
        return layout;
    }

    private static IEnumerable<(string Name, Chunk Chunk)> Walk(BankBytes bytes, long from, long to, string place)
    {
        var at = from;
        while (at < to)
        {
            // Some writers leave a few bytes of padding at the end of a list.
            if (to - at < HeaderSize)
                yield break;
            long size = Size(bytes, at + 4);
            if (size > to - at - HeaderSize)
            {
                throw new SoundFontException(
                    $"{place}: byte {at}", $"chunk {Printable(Name(bytes, at))} claims {size} bytes, but only {to - at - HeaderSize} remain");
            }
            yield return (Name(bytes, at), new Chunk(at + HeaderSize, size));
            at += HeaderSize + size + (size & 1);
        }
    }

    private static string Name(BankBytes bytes, long at) => System.Text.Encoding.Latin1.GetString(bytes.Slice(at, 4));

    private static uint Size(BankBytes bytes, long at) => BinaryPrimitives.ReadUInt32LittleEndian(bytes.Slice(at, 4));

    private static string Printable(string name) =>
        string.Concat(name.Select(c => c is > ' ' and < '\x7f' ? c : '?'));

    /// <summary>The data of a chunk, without its header.</summary>
    internal readonly record struct Chunk(long Offset, long Length);
}
