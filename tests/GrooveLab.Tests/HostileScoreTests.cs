using System.IO.Compression;
using System.Text;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>Scores made to harm: the program refuses or bounds each with a reason, within 200 MB of memory.</summary>
public sealed class HostileScoreTests
{
    // 150 MiB for what the program allocates; the program itself takes some 45 MB more. Beyond it the runtime ends the program.
    private const string HeapLimit = "0x9600000";

    private const string Head = "<score-partwise><part-list><score-part id=\"P1\"><part-name/></score-part></part-list><part id=\"P1\"><measure number=\"1\">";
    private const string Note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>";
    private const string Tail = "</measure></part></score-partwise>";
    private const string Contents = "META-INF/container.xml";

    private static readonly Dictionary<string, (Func<byte[]> File, string Reason)> Scores = new(StringComparer.Ordinal)
    {
        ["empty.abc"] = (() => [], "the file is empty"),
        ["zeros.abc"] = (() => new byte[4_000_000], "this is not a text"),
        ["broken rhythm.abc"] = (() => Abc(Many("C>", 400_000) + "C"), "more than 2000 notes"),
        ["broken rhythm by bars.abc"] = (() => Abc(Many(Many("C>D<", 100) + "|", 5_000)), "more than 200000 notes and signs"),
        ["repeats in repeats.abc"] = (() => Abc(Many("|:", 100_000) + "CDEF|" + Many(":|", 100_000)), "chart.toml: "),
        ["bars of rest.abc"] = (() => Abc("Z999999999|CDEF|"), "more than 20000 bars"),
        ["voices of rest.abc"] = (() => Abc(string.Concat(Enumerable.Range(0, 64).Select(i => $"V:{i}\nC Z19999|\n"))), "more than 100000 bars together"),
        ["voices.abc"] = (() => Abc(string.Concat(Enumerable.Range(0, 300_000).Select(i => $"[V:{i}]C"))), "more than 64 voices"),
        ["syllables.abc"] = (() => Abc("C|\nw:" + Many(" la", 1_000_000)), "999999 syllables more than notes"),
        ["verses.abc"] = (() => Abc("CDEF|\n" + Many("w:la la la la\n", 300_000)), "verses beyond 100"),
        ["grace notes.abc"] = (() => Abc("{" + Many("c", 4_000_000) + "}C"), "grace notes beyond 64"),
        ["grace notes one by one.abc"] = (() => Abc(Many("{c}", 1_000_000) + "C"), "grace notes beyond 64"),
        ["a chord.abc"] = (() => Abc("[" + Many("C", 4_000_000) + "]"), "notes beyond 64 in a chord"),
        ["slurs.abc"] = (() => Abc(Many("(", 2_000_000) + "C" + Many(")", 2_000_000)), "signs beyond 64 at a note"),
        ["fields.abc"] = (() => Abc(Many("[M:5/8]", 600_000) + "C"), "marks beyond 256 in a bar"),
        ["tunes.abc"] = (() => Encoding.ASCII.GetBytes(Many("X:1\n", 1_000_000)), "the tune has no key"),
        ["a title.abc"] = (() => Encoding.ASCII.GetBytes("X:1\nT:" + Many("x", 4_900_000) + "\nK:C\nC\n"), "larger than 1 MB"),
        ["sections.abc"] = (() => Abc(string.Concat(Enumerable.Range(0, 19_000).Select(i => $"P:{i}\n[K:{"CDEFG"[i % 5]}]{"CDEFGAB"[i % 7]}{"CDEFGAB"[i / 7 % 7]}{"CDEFGAB"[i / 49 % 7]}{"CDEFGAB"[i / 343 % 7]}{"CDEFGAB"[i / 2401 % 7]}|\n"))), "more than 4000 sections"),
        ["repetitions.txt"] = (() => Encoding.ASCII.GetBytes(Many("Refrain x99\nC x99\nla\n", 1_000)), "more than 20000 bars"),
        ["a word.txt"] = (() => Encoding.ASCII.GetBytes("C\n" + Many("a", 190_000)), "more than 2000 characters"),
        ["lines.txt"] = (() => Encoding.ASCII.GetBytes(Many("C\nla\n", 9_000)), "more than 10000 lines"),
        ["a tempo.txt"] = (() => "Tempo: quarter = 1e99\nC\nla\n"u8.ToArray(), "is not a number"),
        ["notes at one tick.mid"] = (() => Midi([0, 0x90, 64, 64, .. Bytes([0, 64, 64], 1_000_000), 96, 0x80, 64, 0]), "more than 500000 events"),
        ["far away.mid"] = (() => Midi(Bytes([255, 255, 255, 127, 0x90, 64, 64], 300_000)), "more than 200000 notes"),
        ["signs.mid"] = (() => Midi([0, 0x90, 64, 64, .. Bytes([1, 255, 6, 2, 65, 109], 110_000), 96, 0x80, 64, 0]), "more than 100000 tempi, meters"),
        ["far away once.mid"] = (() => Midi([255, 255, 255, 127, 0x90, 64, 64, 96, 0x80, 64, 0]), "longer than 20000 measures"),
        ["markers.mid"] = (() => Midi([0, 0x90, 64, 64, .. Bytes([1, 255, 6, 2, 65, 109], 1_000_000), 96, 0x80, 64, 0]), "more than 500000 events"),
        ["syllables.mid"] = (() => Midi([.. Bytes([0, 255, 5, 2, 108, 97], 1_000_000), 0, 0x90, 64, 64, 96, 0x80, 64, 0]), "more than 500000 events"),
        ["parts.mid"] = (() => [.. "MThd"u8, 0, 0, 0, 6, 0, 1, 0xEA, 0x60, 1, 0xE0, .. Bytes([.. "MTrk"u8, 0, 0, 0, 12, 0, 0x90, 64, 64, 96, 0x80, 64, 0, 0, 255, 47, 0], 60_000)], "more than 256 parts"),
        ["a division of zero.mid"] = (() => [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, 0, 0, .. "MTrk"u8, 0, 0, 0, 4, 0, 255, 47, 0], "a division of 0 ticks"),
        ["a length beyond the file.mid"] = (() => [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, 1, 0xE0, .. "MTrk"u8, 0x7F, 255, 255, 255, 0, 0xF0, 255, 255, 255, 127, 0], "the file has no notes"),
        ["entities.musicxml"] = (() => Encoding.ASCII.GetBytes("<!DOCTYPE s [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]><score-partwise>&b;</score-partwise>"), "entities"),
        ["an external entity.musicxml"] = (() => Encoding.ASCII.GetBytes("<!DOCTYPE s [<!ENTITY a SYSTEM \"file:///etc/passwd\">]><score-partwise>&a;</score-partwise>"), "entities"),
        ["verses.musicxml"] = (() => Xml(string.Concat(Enumerable.Range(0, 300_000).Select(verse => Note.Replace("</note>", $"<lyric number=\"{verse}\"><text>a</text></lyric></note>", StringComparison.Ordinal)))), "more than 400000 notes, syllables and marks"),
        ["repeats.musicxml"] = (() => Xml(Note + "<barline location=\"right\"><repeat direction=\"backward\" times=\"1000000000\"/></barline>"), "times must be"),
        ["divisions.musicxml"] = (() => Xml("<attributes><divisions>1000000000000000000</divisions></attributes>" + Note), "divisions must be"),
        ["a ratio.mxl"] = (() => Archive((Contents, Container("a.xml")), ("a.xml", Head + Many(" ", 60_000_000))), "times larger when unpacked"),
        ["many files.mxl"] = (() => Archive([(Contents, Container("a.xml")), .. Enumerable.Range(0, 20_000).Select(i => ($"f{i}", ""))]), "more than 1000 files"),
        ["a way out.mxl"] = (() => Archive((Contents, Container("../../etc/passwd")), ("../../etc/passwd", Head)), "leads out of it"),
        ["an absolute path.mxl"] = (() => Archive((Contents, Container("/etc/passwd"))), "which is not in the archive"),
        ["files that overlap.mxl"] = (() => InDirectory(Archive((Contents, Container("a.xml")), ("a.xml", Head + Note + Tail), ("b.xml", Note)), "b.xml", -4, 0), "in the archive overlap"),
        ["a size that lies.mxl"] = (() => InDirectory(Archive((Contents, Container("a.xml")), ("a.xml", Head + Note + Tail)), "a.xml", -22, 2_000_000_000), "says that it has 2000000000 bytes unpacked"),
        ["an archive inside.mxl"] = (() => Archive((Contents, Container("a.mxl")), ("a.mxl", Encoding.Latin1.GetString(Archive(("a.xml", Head))))), "another archive"),
    };

    public static TheoryData<string> Names => [.. Scores.Keys];

    [Theory]
    [MemberData(nameof(Names))]
    public void Import_HostileScore_IsBoundedWithAReason(string name)
    {
        var (file, reason) = Scores[name];
        using var running = new Running();
        File.WriteAllBytes(running.Path(name), file());
        running.Environment["DOTNET_GCHeapHardLimit"] = HeapLimit;
        var ran = running.Run("import", name, "-o", "chart.toml");
        var said = ran.Out + ran.Error;
        Assert.True(ran.ExitCode is 0 or 2, $"exit code {ran.ExitCode}: {said}");
        Assert.Contains(reason, said, StringComparison.Ordinal);
        Assert.True(ran.ExitCode == 0 || ran.Error.StartsWith(name, StringComparison.Ordinal), ran.Error);
        Assert.Equal(ran.ExitCode == 0, File.Exists(running.Path("chart.toml")));

        // A message stays a message, however long the file's texts are.
        Assert.All(said.Split('\n'), line => Assert.InRange(line.Length, 0, 2_000));
    }

    private static string Many(string text, int times) => new StringBuilder(text.Length * times).Insert(0, text, times).ToString();

    private static byte[] Bytes(byte[] bytes, int times)
    {
        var all = new byte[bytes.Length * times];
        for (var i = 0; i < all.Length; i++)
        {
            all[i] = bytes[i % bytes.Length];
        }

        return all;
    }

    private static byte[] Abc(string body) => Encoding.ASCII.GetBytes("X:1\nT:t\nM:4/4\nL:1/8\nK:C\n" + body + "\n");

    private static byte[] Xml(string measure) => Encoding.ASCII.GetBytes(Head + measure + Tail);

    private static byte[] Midi(byte[] events)
    {
        var length = events.Length + 4;
        return [.. "MThd"u8, 0, 0, 0, 6, 0, 0, 0, 1, 1, 0xE0, .. "MTrk"u8, (byte)(length >> 24), (byte)((length >> 16) & 255), (byte)((length >> 8) & 255), (byte)(length & 255), .. events, 0, 255, 47, 0];
    }

    // A number in the directory of an archive, at a distance from a file's name, whose last copy is there.
    private static byte[] InDirectory(byte[] archive, string name, int distance, int number)
    {
        BitConverter.TryWriteBytes(archive.AsSpan(archive.AsSpan().LastIndexOf(Encoding.ASCII.GetBytes(name)) + distance), number);
        return archive;
    }

    private static string Container(string path) => $"<container><rootfiles><rootfile full-path=\"{path}\"/></rootfiles></container>";

    private static byte[] Archive(params (string Name, string Text)[] entries)
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach (var (name, text) in entries)
            {
                using var entry = archive.CreateEntry(name).Open();
                entry.Write(Encoding.Latin1.GetBytes(text));
            }
        }

        return stream.ToArray();
    }
}
