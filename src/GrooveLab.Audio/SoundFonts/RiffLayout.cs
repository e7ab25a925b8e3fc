using System.Buffers.Binary;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The places of a SoundFont file's chunks (section 4), found by walking the RIFF structure once and checking every size.
/// </summary>
internal sealed class RiffLayout
{
    private const int HeaderSize = 8;
    private const int FormSize = 4;

    // How far the size in the RIFF header may exceed the file: a few padding bytes that were counted but not written.
    private const int MostMissing = 8;

    // A bank has about thirty chunks. One with very many is damaged, and looking at each would take minutes.
    private const int MostChunks = 10_000;

    // So many chunks without padding are named; a file may have thousands.
    private const int MostUnpadded = 4;

    private static readonly string[] HydraOrder = ["phdr", "pbag", "pmod", "pgen", "inst", "ibag", "imod", "igen", "shdr"];

    // Sections 5 to 7 name the chunks of each list.
    private static readonly string[] InfoNames = ["ifil", "isng", "INAM", "irom", "iver", "ICRD", "IENG", "IPRD", "ICOP", "ICMT", "ISFT"];
    private static readonly string[] SoundNames = ["smpl", "sm24"];

    private readonly Dictionary<string, Chunk> _chunks = [];
    private readonly List<string> _oddities = [];
    private readonly List<string> _unpadded = [];
    private int _count;

    private RiffLayout()
    {
    }

    /// <summary>The nine sub-chunks of <c>pdta</c> in the order of section 7.1.</summary>
    public static IReadOnlyList<string> HydraNames => HydraOrder;

    /// <summary>What breaks the rules but can be read: a sentence each.</summary>
    public IReadOnlyList<string> Oddities => _oddities;

    /// <summary>The chunks without the padding byte after an odd length: a sentence each. Banks are shipped so, and nothing of them is lost.</summary>
    public IReadOnlyList<string> Unpadded => _unpadded;

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
        if (end - bytes.Length > MostMissing)
            throw new SoundFontException($"{bankName}: byte 4", $"the file should be {end} bytes long but has {bytes.Length}");

        var layout = new RiffLayout();
        // A list may reach past a RIFF size that is too small, but not begin there.
        var last = 12L;
        foreach (var (list, at) in layout.Walk(bytes, 12, Math.Min(end, bytes.Length), bytes.Length, ["LIST"], bankName))
        {
            last = at.Offset + at.Length;
            if (list is not "LIST" || at.Length < FormSize)
                continue;
            var names = Name(bytes, at.Offset) switch
            {
                "INFO" => InfoNames,
                "sdta" => SoundNames,
                "pdta" => HydraOrder,
                _ => null,
            };
            if (names is null)
                continue;
            var place = $"{bankName}: LIST {Name(bytes, at.Offset)}";
            foreach (var (name, chunk) in layout.Walk(bytes, at.Offset + FormSize, last, last, names, place))
            {
                if (!layout._chunks.TryAdd(name, chunk) && names != InfoNames)
                    throw new SoundFontException($"{bankName}: {name}", "the chunk occurs twice");
            }
        }
        layout.CompareSize(end, last, bytes.Length);
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

    /// <summary>The chunks one after the other.</summary>
    /// <param name="bytes">The file.</param>
    /// <param name="from">Where the first begins.</param>
    /// <param name="to">Where none begins any more.</param>
    /// <param name="limit">Where the last must end.</param>
    /// <param name="names">The names that may be expected here.</param>
    /// <param name="place">The place in messages.</param>
    private IEnumerable<(string Name, Chunk Chunk)> Walk(BankBytes bytes, long from, long to, long limit, string[] names, string place)
    {
        var at = from;
        // Some writers leave a few bytes of padding at the end of a list.
        while (at < to && limit - at >= HeaderSize)
        {
            if (++_count > MostChunks)
                throw new SoundFontException($"{place}: byte {at}", $"the file has more than {MostChunks} chunks; it is damaged");
            long size = Size(bytes, at + 4);
            var name = Name(bytes, at);
            if (size > limit - at - HeaderSize)
            {
                throw new SoundFontException(
                    $"{place}: byte {at}", $"chunk {Printable(name)} claims {size} bytes, but only {limit - at - HeaderSize} remain");
            }
            yield return (name, new Chunk(at + HeaderSize, size));
            var end = at + HeaderSize + size;
            at = end + (size & 1);
            if (IsNamed(bytes, at, limit, names))
                continue;
            // RIFF wants a byte of padding after an odd length; some writers forget it, or count it and do not write it.
            if ((size & 1) != 0 && IsNamed(bytes, end, limit, names))
                at = end;
            else if ((size & 1) == 0 && IsNamed(bytes, end - 1, limit, names))
                at = end - 1;
            else
                continue;
            if (_unpadded.Count < MostUnpadded)
                _unpadded.Add($"The {Printable(name)} chunk at byte {end - HeaderSize - size} has no padding byte.");
        }
    }

    private void CompareSize(long end, long last, long length)
    {
        if (end > length)
            _oddities.Add($"Its RIFF size is {Bytes(end - length)} too large.");
        else if (last > end)
            _oddities.Add($"Its RIFF size is {Bytes(last - end)} too small.");
        var rest = length - Math.Max(last + (last & 1), end);
        if (rest > 0)
            _oddities.Add(rest == 1 ? "1 byte follows its last chunk." : $"{rest} bytes follow its last chunk.");

        static string Bytes(long count) => count == 1 ? "1 byte" : $"{count} bytes";
    }

    private static bool IsNamed(BankBytes bytes, long at, long limit, string[] names) =>
        limit - at >= HeaderSize && names.Contains(Name(bytes, at));

    private static string Name(BankBytes bytes, long at) => System.Text.Encoding.Latin1.GetString(bytes.Read(at, 4));

    private static uint Size(BankBytes bytes, long at) => BinaryPrimitives.ReadUInt32LittleEndian(bytes.Read(at, 4));

    private static string Printable(string name) =>
        string.Concat(name.Select(c => c is > ' ' and < '\x7f' ? c : '?'));

    /// <summary>The data of a chunk, without its header.</summary>
    internal readonly record struct Chunk(long Offset, long Length);
}
