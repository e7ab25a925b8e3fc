using System.IO.Compression;
using System.Text;
using GrooveLab.Exchange.Scores;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>Scores with damage: bytes and, in texts, signs of the format exchanged, repeated, removed or made enormous.</summary>
internal sealed class ScoreMutations(string kind, IReadOnlyList<byte[]> originals)
{
    private static readonly string[] AbcPieces =
    [
        "|:", ":|", "::", "|1", "|2", "|]", "[1-3", "||", "(3", "(5:2:9", "(3:1024:1", ">", "<<", ">>>", "-", "&", "Z", "Z99999", "z1024", "{ag}", "[CEG]", "\"Am7\"", "\"x\"", "\"^up\"",
        "\n", "\n\n", "\nM:3+2/8\n", "\nM:1/64\n", "\nM:none\n", "\nM:C|\n", "\nL:1/1024\n", "\nL:64\n", "\nQ:1/4=1\n", "\nQ:99999\n", "\nK:F# lyd\n", "\nK:none\n", "\nV:2\n", "\nV:1 octave=-4\n", "\nP:A\n",
        "\nP:B\n", "\nw: la la- _ * ~ | x\n", "\nw:\n", "[K:Bb]", "[M:5/8]", "[L:1/64]", "[V:2]", "!D.C.!", "!segno!", "!D.S.!", "!coda!", "!fine!", "!fermata!", "^^", "__", "'", ",", "/", "///", "0", "1/4096",
        "7/3", "2147483648", "%", "\\", "\0", "\u2028", "é",
    ];

    private static readonly string[] WordsPieces =
    [
        "\n", "\n\n", "| ", " |", "Dm", "F#m7b5/C#", "N.C.", "%", "/", "Verse 2", "[Refrain]", "Refrain x3", "Bridge:", "x99999", "(x4)", "\nMeter: 7/8 2+2+3\n", "\nMeter: 64/64\n", "\nMeter: 1/1\n", "\nTempo: bar = 1\n",
        "\nTempo: eighth = 9999\n", "\nKey: C# phrygian\n", "\nKey: H\n", "lan-tern", "-", "_", "~", "*", "\t", "la la la la la la la la la la la la la la la la", "\u00AD", "é", "\u0301", "字", "\0",
    ];

    private static readonly string[] XmlPieces =
    [
        "0", "-1", "1", "7", "NaN", "1e9", "999999999", "0.3333333333", "3+2", "start", "stop", "1024", "128th", "discontinue", "<rest/>", "<chord/>", "<grace/>", "<dot/>", "<cue/>",
        "<backup><duration>1</duration></backup>", "<forward><duration>7</duration></forward>", "<barline location=\"right\"><repeat direction=\"backward\" times=\"9\"/></barline>",
        "<barline location=\"left\"><repeat direction=\"forward\"/></barline>", "<barline location=\"left\"><ending number=\"1, 3\" type=\"start\"/></barline>", "<sound dacapo=\"yes\"/>",
        "<attributes><divisions>7</divisions></attributes>", "<attributes><divisions>10000000</divisions></attributes>", "<attributes><time><beats>64</beats><beat-type>64</beat-type></time></attributes>",
        "<attributes><transpose><chromatic>-100</chromatic></transpose></attributes>", "<attributes><key><fifths>-14</fifths></key></attributes>",
        "<lyric number=\"3\"><syllabic>middle</syllabic><text>|-_*</text></lyric>", "<time-modification><actual-notes>1024</actual-notes><normal-notes>1023</normal-notes></time-modification>",
        "<direction><direction-type><metronome><beat-unit>eighth</beat-unit><per-minute>0.001</per-minute></metronome></direction-type></direction>", "<accidental>flat</accidental>", "<alter>3</alter>", "<alter>0.5</alter>",
        "<harmony><root><root-step>B</root-step><root-alter>-2</root-alter></root><kind>diminished-seventh</kind></harmony>",
    ];

    private readonly ScoreMutations? _inside = kind is "mxl" ? new ScoreMutations("musicxml", ScoreMutationTests.Originals("musicxml")) : null;

    /// <summary>The kind: musicxml, mxl, midi, abc or words.</summary>
    public string Kind => kind;

    /// <summary>The format.</summary>
    public ScoreFormat Format => kind switch { "midi" => ScoreFormat.Midi, "abc" => ScoreFormat.Abc, "words" => ScoreFormat.Words, _ => ScoreFormat.MusicXml };

    /// <summary>A damaged score; the same seed gives the same one.</summary>
    public byte[] Of(int seed)
    {
        if (_inside is not null && seed % 2 == 0)
        {
            // Damage under a right checksum.
            return Archive(_inside.Of(seed / 2));
        }

        var random = new Random(seed);
        var bytes = originals[seed % originals.Count].ToList();
        for (var i = random.Next(1, 6); i > 0 && bytes.Count > 1; i--)
        {
            if (kind is "midi" or "mxl" || random.Next(5) == 0)
            {
                Damage(bytes, random);
            }
            else
            {
                Write(bytes, random);
            }
        }

        return [.. bytes];
    }

    /// <summary>An archive of a score with its table of contents, as a .mxl file.</summary>
    public static byte[] Archive(byte[] score)
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            Add(archive, "META-INF/container.xml", "<container><rootfiles><rootfile full-path=\"a.xml\"/></rootfiles></container>"u8.ToArray(), CompressionLevel.NoCompression);
            Add(archive, "a.xml", score, CompressionLevel.NoCompression);
            Add(archive, "b.xml", score, CompressionLevel.Optimal);
        }

        return stream.ToArray();

        static void Add(ZipArchive archive, string name, byte[] content, CompressionLevel level)
        {
            using var entry = archive.CreateEntry(name, level).Open();
            entry.Write(content);
        }
    }

    // A sign of the format at any place, in place of what is there, or many times over; or a line or stretch moved.
    private void Write(List<byte> bytes, Random random)
    {
        var pieces = kind switch { "abc" => AbcPieces, "words" => WordsPieces, _ => XmlPieces };
        var piece = Encoding.UTF8.GetBytes(pieces[random.Next(pieces.Length)]);
        var at = random.Next(bytes.Count);
        switch (random.Next(6))
        {
            case 0:
                bytes.RemoveRange(at, Math.Min(piece.Length, bytes.Count - at));
                bytes.InsertRange(at, piece);
                break;
            case 1:
                bytes.InsertRange(at, Enumerable.Repeat(piece, random.Next(2, 30)).SelectMany(one => one));
                break;
            case 2:
                var from = random.Next(bytes.Count);
                bytes.InsertRange(at, bytes.GetRange(from, Math.Min(random.Next(1, 300), bytes.Count - from)));
                break;
            case 3 when kind is "musicxml":
                // The text of an element: the tags stay.
                var open = bytes.IndexOf((byte)'>', at);
                var close = open < 0 ? -1 : bytes.IndexOf((byte)'<', open);
                if (close > open)
                {
                    bytes.RemoveRange(open + 1, close - open - 1);
                    bytes.InsertRange(open + 1, piece);
                }

                break;
            case 4 when kind is "musicxml":
                // Between two elements: the file stays well-formed.
                var place = bytes.IndexOf((byte)'\n', at);
                bytes.InsertRange(place < 0 ? bytes.Count : place, piece);
                break;
            default:
                bytes.InsertRange(at, piece);
                break;
        }
    }

    private static void Damage(List<byte> bytes, Random random)
    {
        var at = random.Next(random.Next(2) == 0 ? bytes.Count : Math.Min(bytes.Count, 200));
        var length = Math.Min(random.Next(1, 20), bytes.Count - at);
        switch (random.Next(9))
        {
            case 0:
                bytes[at] = (byte)random.Next(256);
                break;
            case 1:
                bytes[at] ^= (byte)(1 << random.Next(8));
                break;
            case 2:
                bytes[at] = (byte)(random.Next(2) == 0 ? 0 : 255);
                break;
            case 3:
                bytes.RemoveRange(at, length);
                break;
            case 4:
                bytes.InsertRange(at, bytes.GetRange(random.Next(bytes.Count - length + 1), length));
                break;
            case 5 when random.Next(6) == 0:
                bytes.RemoveRange(at, bytes.Count - at);
                break;
            default:
                // Data bytes stay data bytes.
                bytes[at] = (byte)(bytes[at] < 128 ? random.Next(128) : 128 + random.Next(128));
                break;
        }
    }
}
