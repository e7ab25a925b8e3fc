using System.IO.Compression;
using System.Text;

namespace GrooveLab.Exchange.SongTexts;

/// <summary>
/// The stresses of 126,000 English words: those of the CMU Pronouncing Dictionary, Carnegie Mellon University, as the npm package
/// cmu-pronouncing-dictionary 3.0.0 has them; the licence is in english-stress-licence.txt. The script .ci/stress-table makes the table and describes its
/// layout.
/// </summary>
internal sealed class EnglishStressTable
{
    private const string Name = "english-stress.br";

    // A byte from here on ends a word and begins the number of its set; from the second on the number has another byte.
    private const byte FirstNumber = 128;
    private const byte FirstLongNumber = 224;

    // A look-up reads half as many words on average.
    private const int WordsInBlock = 64;

    private static readonly Lazy<EnglishStressTable> Loaded = new(() => new EnglishStressTable());

    private readonly byte[] _bytes;
    private readonly string[][] _sets;
    private readonly List<string> _firstWords = [];
    private readonly List<int> _starts = [];
    private readonly int _longest;

    private EnglishStressTable()
    {
        _bytes = Unpacked();
        var start = _bytes.AsSpan().IndexOf("\n\n"u8);
        _sets = [.. Encoding.ASCII.GetString(_bytes, 0, start).Split('\n').Select(line => line.Split(','))];
        _longest = FindBlocks(start + 2);
    }

    /// <summary>The table. It is read when it is first asked for.</summary>
    public static EnglishStressTable Instance => Loaded.Value;

    /// <summary>The number of words.</summary>
    public int Count { get; private set; }

    /// <summary>The stresses of a word: for each pronunciation one digit a vowel, 1 for the primary stress, 2 for a secondary one, 0 for none. The first is
    /// the usual pronunciation. Empty for an unknown word.</summary>
    /// <param name="word">In lower case, with a plain apostrophe (').</param>
    public IReadOnlyList<string> Of(string word)
    {
        if (word.Length == 0 || word.Length > _longest || !Ascii.IsValid(word))
        {
            return [];
        }

        var block = _firstWords.BinarySearch(word, StringComparer.Ordinal);
        block = block < 0 ? ~block - 1 : block;
        return block < 0 ? [] : InBlock(block, word);
    }

    private string[] InBlock(int block, string word)
    {
        Span<byte> wanted = stackalloc byte[word.Length];
        Encoding.ASCII.GetBytes(word, wanted);
        Span<byte> current = stackalloc byte[_longest];
        Encoding.ASCII.GetBytes(_firstWords[block], current);
        var at = _starts[block];
        for (var i = 0; i < WordsInBlock && at < _bytes.Length; i++)
        {
            var length = Word(ref at, current);
            var number = Number(ref at);
            if (current[..length].SequenceEqual(wanted))
            {
                return _sets[number];
            }
        }

        return [];
    }

    // Notes where each block starts, with its first word. Returns the length of the longest word.
    private int FindBlocks(int at)
    {
        Span<byte> current = stackalloc byte[byte.MaxValue];
        var longest = 0;
        while (at < _bytes.Length)
        {
            var start = at;
            var length = Word(ref at, current);
            longest = Math.Max(longest, length);
            if (Count % WordsInBlock == 0)
            {
                _firstWords.Add(Encoding.ASCII.GetString(current[..length]));
                _starts.Add(start);
            }

            Number(ref at);
            Count++;
        }

        return longest;
    }

    // Changes the word before into the word at this place, and returns its length.
    private int Word(ref int at, Span<byte> current)
    {
        int length = _bytes[at++];
        while (_bytes[at] < FirstNumber)
        {
            current[length++] = _bytes[at++];
        }

        return length;
    }

    private int Number(ref int at)
    {
        int first = _bytes[at++];
        return first < FirstLongNumber ? first - FirstNumber : ((first - FirstLongNumber) * 256) + _bytes[at++];
    }

    private static byte[] Unpacked()
    {
        using var packed = Resource.Stream(Name);
        using var brotli = new BrotliStream(packed, CompressionMode.Decompress);
        using var bytes = new MemoryStream(600_000);
        brotli.CopyTo(bytes);
        return bytes.ToArray();
    }
}
