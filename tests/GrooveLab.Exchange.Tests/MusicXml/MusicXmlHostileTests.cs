using System.Buffers.Binary;
using System.IO.Compression;
using System.Text;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Files that are broken or made to harm: each is refused with a reason and a place, within a bound of memory.</summary>
public sealed class MusicXmlHostileTests
{
    // What one reading may allocate in all, collected or not; what is alive at once is less.
    private const long MostAllocated = 300_000_000;
    private const long MostAllocatedPerByte = 20;

    private const string Head = "<score-partwise><part-list><score-part id=\"P1\"><part-name/></score-part></part-list><part id=\"P1\">";
    private const string Tail = "</part></score-partwise>";
    private const string Container = "<container><rootfiles><rootfile full-path=\"a.xml\"/></rootfiles></container>";

    public static TheoryData<string, string> Texts => new()
    {
        { "", "the file is empty" },
        { "\0\0\0\0", "this is not a MusicXML file" },
        { "MThd", "not well-formed" },
        { "<a/>", "no MusicXML score" },
        { "<score-partwise/>", "the score has no measures" },
        { "<score-partwise><part id=\"P1\"/></score-partwise>", "the score has no measures" },
        { Head + "<measure><note>", "not well-formed" },
        { "<!DOCTYPE a [<!ENTITY x \"y\">]><score-partwise>&x;</score-partwise>", "entities" },
        { "<!DOCTYPE a [<!ENTITY % x SYSTEM \"file:///etc/passwd\"> %x;]><score-partwise/>", "entities" },
        { "<!DOCTYPE a [<!-- ' --><!ENTITY x SYSTEM \"http://127.0.0.1/\">]><score-partwise>&x;</score-partwise>", "entities" },
        { "<!DOCTYPE a SYSTEM \"http://127.0.0.1:1/a.dtd\"><score-partwise>&x;</score-partwise>", "not well-formed" },
        { "<?xml version=\"1.0\" encoding=\"utf-7\"?><score-partwise/>", "encoding" },
        { "<?xml version=\"1.0\" encoding=\"klingon\"?><score-partwise/>", "the encoding 'klingon' is not known" },
        { One("<attributes><divisions>0</divisions></attributes>"), "divisions must be above 0" },
        { One("<attributes><divisions>-1</divisions></attributes>"), "divisions must be above 0" },
        { One("<attributes><divisions>NaN</divisions></attributes>"), "divisions must be above 0" },
        { One("<attributes><divisions>1000000000000000000</divisions></attributes>"), "divisions must be above 0" },
        { One(Note("<duration>-1</duration>")), "duration must not be negative" },
        { One(Note("<duration>1000000000000000000</duration>")), "duration must be" },
        { One(Note("<duration>99999999999</duration>")), "duration must be at most" },
        { One(Note("<duration>1e5</duration>")), "duration must be a number" },
        { One(Note("<duration>NaN</duration>")), "duration must be a number" },
        { One(Note("")), "the note has no duration" },
        { One("<note><duration>1</duration></note>"), "the note has no pitch" },
        { One("<note><pitch><step>H</step><octave>4</octave></pitch><duration>1</duration></note>"), "step must be A to G" },
        { One("<note><pitch><step>3</step><octave>4</octave></pitch><duration>1</duration></note>"), "step must be A to G" },
        { One("<note><pitch><step>C</step><octave>400</octave></pitch><duration>1</duration></note>"), "octave must be -2 to 12" },
        { One("<note><pitch><step>C</step><alter>9</alter><octave>4</octave></pitch><duration>1</duration></note>"), "alter must be -4 to 4" },
        { One("<attributes><time><beats>0</beats><beat-type>4</beat-type></time></attributes>"), "beats must be" },
        { One("<attributes><time><beats>3</beats></time></attributes>"), "need a beat-type" },
        { One("<attributes><time><beats>3</beats><beat-type>x</beat-type></time></attributes>"), "beat-type must be" },
        { One("<attributes><time/></attributes>"), "neither beats nor senza-misura" },
        { One("<attributes><key><fifths>99</fifths></key></attributes>"), "fifths must be -14 to 14" },
        { One("<barline><ending number=\"x\" type=\"start\"/></barline>"), "passes" },
        { One("<barline><ending number=\"1-999999999\" type=\"start\"/></barline>"), "passes" },
        { One("<barline><repeat direction=\"backward\" times=\"2000000000\"/></barline>"), "times must be" },
        { One("<sound tempo=\"-3\"/>"), "tempo must be" },
        { One("<sound tempo=\"1e99\"/>"), "tempo must be" },
        { One("<backup/>"), "the backup has no duration" },
        { One("<harmony><root><root-step>Q</root-step></root><kind>major</kind></harmony>"), "root-step must be A to G" },
    };

    [Theory]
    [MemberData(nameof(Texts))]
    public void Read_BrokenText_IsRefusedWithItsReason(string text, string reason)
    {
        var reading = MusicXmlFile.Reading(text);
        Assert.False(reading.IsRead);
        Assert.Contains(reading.Errors, error => error.ToString().Contains(reason, StringComparison.Ordinal));
    }

    [Fact]
    public void Read_SeveralFaults_AreAllListedWithLineAndMeasure()
    {
        var reading = MusicXmlFile.Reading(Head + "<measure number=\"1\">\n" + Note("<duration>-1</duration>") + "</measure>\n<measure number=\"X2\">\n"
            + Note("<duration>x</duration>") + "\n<attributes><divisions>0</divisions></attributes></measure>" + Tail);
        Assert.Equal(
            [
                "score.musicxml:2: part P1, measure 1: duration must not be negative, not '-1'",
                "score.musicxml:4: part P1, measure X2: duration must be a number, not 'x'",
                "score.musicxml:5: part P1, measure X2: divisions must be above 0 and at most 10000000, not '0'",
            ],
            reading.Errors.Select(error => error.ToString()));
    }

    [Fact]
    public void Read_ThousandsOfFaults_ListsAHundred()
    {
        var reading = MusicXmlFile.Reading(One(string.Concat(Enumerable.Repeat(Note("<duration>x</duration>"), 5_000))));
        Assert.Equal(101, reading.Errors.Count);
        Assert.Contains("too many errors", reading.Errors[^1].ToString(), StringComparison.Ordinal);
    }

    public static TheoryData<string> Bombs => [.. BombTexts.Keys];

    private static readonly Dictionary<string, (Func<string> Text, string? Reason)> BombTexts = new(StringComparer.Ordinal)
    {
        ["deep nesting"] = (() => One("<note>" + Many("<a>", 1_000_000)), "nested more than"),
        ["deep nesting in drawing"] = (() => One("<print>" + Many("<a>", 1_000_000)), "nested more than"),
        ["a long attribute"] = (() => One("<note x=\"" + new string('x', 20_000_000) + "\"/>"), "a tag is longer"),
        ["a long attribute of signs"] = (() => One("<note x='" + Many("\">", 10_000_000) + "'/>"), "a tag is longer"),
        ["a long name"] = (() => One("<" + new string('x', 20_000_000) + "/>"), "a tag is longer"),
        ["many attributes"] = (() => One("<note " + string.Concat(Enumerable.Range(0, 200_000).Select(i => $"a{i}='' ")) + "/>"), "a tag is longer"),
        ["a long text"] = (() => One("<direction><direction-type><words>" + new string('x', 20_000_000) + "</words></direction-type></direction>"), "a text is longer"),
        ["a long comment"] = (() => One("<!--" + new string('x', 20_000_000) + "-->"), null),
        ["a long syllable in pieces"] = (() => One("<note><lyric><text>" + Many("x<!-- -->", 1_000_000) + "</text></lyric></note>"), "a text is longer"),
        ["a note with a million parts"] = (() => One("<note>" + Many("<dot/>", 1_000_000) + "</note>"), "are inside one note"),
        ["a million notes in a chord"] = (() => One(Note("<duration>1</duration>") + Many("<note><chord/><rest/><duration>1</duration></note>", 100_000)), null),
        ["a chord of many heads"] = (() => One(Note("<duration>1</duration>") + Many(Note("<duration>1</duration>").Replace("<note>", "<note><chord/>", StringComparison.Ordinal), 10_000)), "a chord has more than"),
        ["many voices"] = (() => One(string.Concat(Enumerable.Range(0, 10_000).Select(i => $"{Note($"<duration>1</duration><voice>{i}</voice>")}<backup><duration>1</duration></backup>"))), "more than 64 voices"),
        ["overlapping notes of one voice"] = (() => One(Many(Note("<duration>9</duration>") + "<backup><duration>8</duration></backup>", 10_000)), null),
        ["a million notes"] = (() => One(Many("<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>", 600_000)), "more than 400000 notes"),
        ["a million grace notes"] = (() => One(Many("<note><grace/><pitch><step>C</step><octave>4</octave></pitch></note>", 600_000)), "more than 400000 notes"),
        ["a million directions"] = (() => One(string.Concat(Enumerable.Range(0, 600_000).Select(i => $"<direction><direction-type><words>{i}</words></direction-type></direction>"))), "more than 400000 notes"),
        ["one mark a million times"] = (() => One(Many("<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>", 600_000)), "more than 400000 notes"),
        ["details of details"] = (() => One(Many("<harmony><root><root-step>C</root-step></root><kind>major</kind><frame>" + Many("<a b='c'/>", 19_000) + "</frame></harmony>", 40)), "more than 400000 notes"),
        ["tuplets that never end"] = (() => One(Many("<note><rest/><duration>1</duration><type>quarter</type><notations><tuplet type=\"start\"/></notations></note>", 50_000)), null),
        ["measures that wait for a tuplet"] = (() => Head + Many("<measure><note><rest/><duration>1</duration><type>quarter</type><notations><tuplet type=\"start\"/></notations></note></measure>", 20_000) + Tail, null),
        ["too many measures"] = (() => Head + Many("<measure/>", 100_000) + Tail, "more than 50000 measures"),
        ["too many parts"] = (() => "<score-partwise>" + Many("<part><measure/></part>", 10_000) + "</score-partwise>", "more than 256 parts"),
        ["measures times parts"] = (() => "<score-partwise>" + Many("<part><measure/></part>", 200) + "<part>" + Many("<measure/>", 40_000) + "</part></score-partwise>", "measures in all parts"),
        ["odd divisions"] = (() => One(string.Concat(Enumerable.Range(9_999_000, 900).Select(i => $"<attributes><divisions>{i}</divisions></attributes>{Note("<duration>1</duration>")}"))), "too fine"),
        ["odd divisions over measures"] = (() => Head + string.Concat(Enumerable.Range(9_999_000, 900).Select(i => $"<measure><attributes><divisions>{i}</divisions></attributes>{Note("<duration>1</duration>")}</measure>")) + Tail, "too fine"),
        ["odd tuplets"] = (() => One("<note><rest/><duration>1</duration><type>quarter</type><time-modification><actual-notes>1023</actual-notes><normal-notes>1021</normal-notes></time-modification><notations>"
            + string.Concat(Enumerable.Range(0, 8).Select(i => $"<tuplet type='start' number='{i}'><tuplet-actual><tuplet-number>{1009 - (2 * i)}</tuplet-number></tuplet-actual><tuplet-normal><tuplet-number>{1000 + i}</tuplet-number></tuplet-normal></tuplet>")) + "</notations></note>"), null),
        ["words for jumps everywhere"] = (() => Head + Many("<measure><direction><direction-type><words>D.C. al Coda</words><words>To Coda</words><words>Fine</words><coda/></direction-type></direction></measure>", 20_000) + Tail, null),
        ["many repeats"] = (() => Head + Many("<measure><barline location='left'><repeat direction='forward'/></barline><barline><repeat direction='backward' times='100'/></barline></measure>", 40_000)
            + "<measure><direction><direction-type><words>D.C.</words></direction-type></direction></measure>" + Tail, null),
        ["many transpositions"] = (() => One(Many("<attributes><transpose number='2'><chromatic>1</chromatic></transpose></attributes>" + Note("<duration>1</duration><staff>1</staff>"), 5_000)), null),
    };

    [Theory]
    [MemberData(nameof(Bombs))]
    public void Read_Bomb_StaysWithinItsBound(string name)
    {
        var (text, reason) = BombTexts[name];
        var bytes = Encoding.UTF8.GetBytes(text());
        var reading = Bounded(bytes);
        if (reason is not null)
        {
            Assert.Contains(reading.Errors, error => error.What.Contains(reason, StringComparison.Ordinal) && error.Place.Line is not null);
        }
        else
        {
            Assert.True(reading.IsRead || reading.Errors.Count > 0);
        }
    }

    [Fact]
    public void Read_EntityBomb_IsRefusedBeforeItGrows()
    {
        var text = new StringBuilder("<!DOCTYPE score-partwise [<!ENTITY a0 \"ha\">");
        for (var i = 1; i < 30; i++)
        {
            text.Append($"<!ENTITY a{i} \"&a{i - 1};&a{i - 1};\">");
        }

        var reading = Bounded(Encoding.UTF8.GetBytes(text.Append("]><score-partwise><part-list>&a29;</part-list></score-partwise>").ToString()));
        Assert.Contains("never expanded", reading.Errors.Single().What, StringComparison.Ordinal);
    }

    public static TheoryData<string> Archives => [.. ArchiveBytes.Keys];

    private static readonly Dictionary<string, (Func<byte[]> Bytes, string Reason)> ArchiveBytes = new(StringComparer.Ordinal)
    {
        ["100,000 files"] = (() => MusicXmlReadingTests.Zip([.. Enumerable.Range(0, 100_000).Select(i => ($"{i}", ""))]), "more than 1000 files"),
        ["2,000 files, told to be one"] = (() => WithEnd(MusicXmlReadingTests.Zip([.. Enumerable.Range(0, 2_000).Select(i => ($"{i}", ""))]), end => BinaryPrimitives.WriteUInt16LittleEndian(end[10..], 1)), "more than 1000 files"),
        ["a bomb of spaces"] = (() => MusicXmlReadingTests.Zip(("META-INF/container.xml", Container), ("a.xml", "<score-partwise>" + new string(' ', 60_000_000))), "times larger"),
        ["a bomb in the container"] = (() => MusicXmlReadingTests.Zip(("META-INF/container.xml", "<container>" + new string(' ', 60_000_000))), "a text is longer"),
        ["a name outside"] = (() => MusicXmlReadingTests.Zip(("META-INF/container.xml", Container), ("../a.xml", "<x/>")), "leads out of it"),
        ["an absolute name"] = (() => MusicXmlReadingTests.Zip(("/etc/a.xml", "<x/>")), "leads out of it"),
        ["a drive"] = (() => MusicXmlReadingTests.Zip(("C:\\a.xml", "<x/>")), "leads out of it"),
        ["a score outside"] = (() => MusicXmlReadingTests.Zip(("META-INF/container.xml", "<container><rootfiles><rootfile full-path=\"../../etc/passwd\"/></rootfiles></container>")), "not in the archive"),
        ["no score"] = (() => MusicXmlReadingTests.Zip(("readme.txt", "x")), "neither META-INF/container.xml nor"),
        ["an empty container"] = (() => MusicXmlReadingTests.Zip(("META-INF/container.xml", "<container/>")), "names no score"),
        ["an archive in the archive"] = (() => Nested(), "another archive"),
        ["an encrypted file"] = (() => Encrypted(), "encrypted"),
        ["the first half"] = (() => Good()[..(Good().Length / 2)], "the archive is damaged"),
        ["no directory"] = (() => "PK\u0003\u0004"u8.ToArray(), "the archive is damaged"),
        ["an empty archive"] = (() => MusicXmlReadingTests.Zip(), "neither"),
        ["a directory elsewhere"] = (() => WithEnd(Good(), end => BinaryPrimitives.WriteUInt32LittleEndian(end[16..], 3)), "the archive"),
        ["a directory past the end"] = (() => WithEnd(Good(), end => BinaryPrimitives.WriteUInt32LittleEndian(end[16..], 0x7FFFFFFF)), "the archive"),
        ["entries that overlap"] = (() => Overlapping(), "byte 0: the files 'META-INF/container.xml' and 'b.xml' in the archive overlap"),
        ["an entry over the directory"] = (() => Changed(Good(), "a.xml"u8, -24, 0x7F), "overlaps the directory"),
        ["an entry elsewhere"] = (() => Changed(Good(), "a.xml"u8, -4, 1), "is not where its directory says"),
        ["a size too large"] = (() => Sized(size => size + 1), "bytes unpacked; it has "),
        ["a size far too large"] = (() => Sized(_ => 2_000_000_000), "the file 'a.xml' in the archive says that it has 2000000000 bytes unpacked; it has "),
        ["a size too small"] = (() => Sized(size => size - 1), "or its checksum is wrong"),
        ["a size of a stored file"] = (() => Sized(size => size - 1, CompressionLevel.NoCompression), "bytes unpacked; it has "),
        ["a checksum"] = (() => Changed(Good(), "a.xml"u8, -30, 0x55), "or its checksum is wrong"),
        ["sizes for 64 bits"] = (() => Sized(_ => uint.MaxValue), "beyond 4 GB"),
        ["a wrong length"] = (() => Changed(Good(), "a.xml"u8, -24, 0x7F), "the archive"),
    };

    [Theory]
    [MemberData(nameof(Archives))]
    public void Read_BrokenArchive_IsRefusedWithinItsBound(string name)
    {
        var (make, reason) = ArchiveBytes[name];
        var reading = Bounded(make());
        Assert.Contains(reading.Errors, error => error.ToString().Contains(reason, StringComparison.Ordinal) || (reason == "the archive" && error.What.Length > 0));
        Assert.StartsWith("hostile", reading.Errors[0].ToString(), StringComparison.Ordinal);
        Assert.All(reading.Errors, error => Assert.True(error.Place.Line is not null || error.Place.Path is not null, error.ToString()));
    }

    // Linear: twice the notes allocate about twice as much.
    [Fact]
    public void Read_TwiceTheNotes_CostsTwice()
    {
        var one = Allocated(Long(2_000));
        var two = Allocated(Long(4_000));
        Assert.InRange(two, one, one * 2.3);
    }

    private static byte[] Long(int measures) => Encoding.UTF8.GetBytes(
        Head + Many("<measure>" + Many(Note("<duration>1</duration><voice>1</voice><type>quarter</type>"), 4) + "</measure>", measures) + Tail);

    private static long Allocated(byte[] bytes)
    {
        var before = GC.GetAllocatedBytesForCurrentThread();
        _ = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = "long" });
        return GC.GetAllocatedBytesForCurrentThread() - before;
    }

    private static ScoreReading Bounded(byte[] bytes)
    {
        // What is allocated bounds what is alive; texts of many megabytes may allocate more, all of it short-lived.
        var before = GC.GetAllocatedBytesForCurrentThread();
        var reading = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = "hostile" });
        var allocated = GC.GetAllocatedBytesForCurrentThread() - before;
        Assert.True(allocated < Math.Max(MostAllocated, MostAllocatedPerByte * bytes.Length), $"{allocated:N0} bytes allocated for {bytes.Length:N0}");
        return reading;
    }

    private static string One(string inside) => Head + "<measure number=\"1\">" + inside + "</measure>" + Tail;

    private static string Note(string rest) => "<note><pitch><step>C</step><octave>4</octave></pitch>" + rest + "</note>";

    private static string Many(string text, int times) => new StringBuilder(text.Length * times).Insert(0, text, times).ToString();

    private static byte[] Good() => MusicXmlReadingTests.Zip(("META-INF/container.xml", Container), ("a.xml", Encoding.UTF8.GetString(Long(50))));

    private static byte[] Nested()
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            using var entry = archive.CreateEntry("a.xml").Open();
            entry.Write(Good());
        }

        return stream.ToArray();
    }

    // Three files, of which the last claims the bytes of the first.
    private static byte[] Overlapping()
    {
        var bytes = MusicXmlReadingTests.Zip(("META-INF/container.xml", Container), ("a.xml", Encoding.UTF8.GetString(Long(50))), ("b.xml", ""));
        var last = bytes.AsSpan().LastIndexOf("b.xml"u8);
        bytes.AsSpan(last - 4, 4).Clear();
        return bytes;
    }

    // An archive whose directory lies about the unpacked size of the score.
    private static byte[] Sized(Func<uint, uint> size, CompressionLevel level = CompressionLevel.Optimal)
    {
        using var stream = new MemoryStream();
        using (var archive = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true))
        {
            using var entry = archive.CreateEntry("a.xml", level).Open();
            entry.Write(Long(50));
        }

        var bytes = stream.ToArray();
        var field = bytes.AsSpan(bytes.AsSpan().LastIndexOf("a.xml"u8) - 22, 4);
        BinaryPrimitives.WriteUInt32LittleEndian(field, size(BinaryPrimitives.ReadUInt32LittleEndian(field)));
        return bytes;
    }

    // The flag of encryption in each entry of the directory.
    private static byte[] Encrypted() => Changed(Good(), "META-INF"u8, -38, 1);

    private static byte[] WithEnd(byte[] bytes, Action<Span<byte>> change)
    {
        change(bytes.AsSpan(bytes.Length - 22));
        return bytes;
    }

    // Changes a byte of the directory at a distance from a name, whose last copy is in the directory.
    private static byte[] Changed(byte[] bytes, ReadOnlySpan<byte> name, int distance, byte value)
    {
        bytes[bytes.AsSpan().LastIndexOf(name) + distance] = value;
        return bytes;
    }

    private delegate void Action<T>(T value) where T : allows ref struct;
}
