using System.IO.Compression;
using System.Text;
using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>What the writer makes of music that was not read from a score.</summary>
public sealed class MusicXmlWritingTests
{
    private static readonly Span Eighth = Span.Of(1, 8);

    // Worked out by hand from the MusicXML 4.0 specification.
    [Fact]
    public void Write_OneBarOfSeven_IsThisText()
    {
        var seven = new MeterMark(Span.Zero, WrittenMeter.Of(new BarMeter(new TimeSignature(7, 8), Grouping.Of(2, 2, 3))));
        var tempo = new TempoSign(Span.Zero)
        {
            Metronomes = [new Metronome(new BeatUnit(new NoteUnit(NoteBase.Quarter), [])) { PerMinute = "90" }],
            SoundQuarters = 90,
        };
        var chord = new ChordMark(Span.Of(1, 4), [new WrittenChord { Symbol = ChordSymbol.Parse("F#m7b5/A") }]);
        var music = new WrittenMusic(
            [new Measure("1") { Marks = [seven, new KeyMark(Span.Zero, new WrittenKey(2, "major")), new RehearsalMark(Span.Zero, "A"), tempo, chord] }],
            [
                new WrittenPart("P1", [new PartMeasure
                {
                    Clefs = [new PlacedClef(Span.Zero, new StaffClef(ClefSign.G, 2, -1))],
                    Marks = [new PlacedMark(Span.Of(3, 8), new Mark(MarkKind.Dynamics) { Text = "mf" })],
                    Voices = [new VoiceMeasure("1",
                    [
                        Note("D4", NoteBase.Eighth) with { Beams = [Beam.Begin] },
                        Note("E4", NoteBase.Eighth) with { Beams = [Beam.End], Marks = [new Mark(MarkKind.Accent), new Mark(MarkKind.DownBow)] },
                        Note("F#4", NoteBase.Quarter),
                        new RestEvent(new WrittenValue(NoteBase.Quarter, 1)),
                    ])],
                }])
                {
                    Name = "Bouzouki",
                    Instruments = [new PartInstrument("I1", "Bouzouki") { Program = 24 }],
                },
            ])
        { Headings = [new Heading("movement-title", null, "Ferry & Lanterns")] };

        const string Expected =
            """
            <?xml version="1.0" encoding="utf-8"?>
            <score-partwise version="4.0"><movement-title>Ferry &amp; Lanterns</movement-title>
            <identification><encoding><software>GrooveLab</software><supports element="beam" type="yes" /></encoding></identification>
            <part-list>
            <score-part id="P1"><part-name>Bouzouki</part-name><score-instrument id="I1"><instrument-name>Bouzouki</instrument-name></score-instrument><midi-instrument id="I1"><midi-channel>1</midi-channel><midi-program>25</midi-program></midi-instrument></score-part></part-list>
            <part id="P1">
            <measure number="1">
            <attributes><divisions>2</divisions><key><fifths>2</fifths><mode>major</mode></key><time><beats>2+2+3</beats><beat-type>8</beat-type></time><clef><sign>G</sign><line>2</line><clef-octave-change>-1</clef-octave-change></clef></attributes>
            <grouping type="single"><feature type="metrical-groups">2+2+3</feature></grouping>
            <direction placement="above"><direction-type><rehearsal>A</rehearsal></direction-type></direction>
            <direction placement="above"><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>90</per-minute></metronome></direction-type><sound tempo="90" /></direction>
            <note><pitch><step>D</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice><type>eighth</type><beam number="1">begin</beam></note>
            <note><pitch><step>E</step><octave>4</octave></pitch><duration>1</duration><voice>1</voice><type>eighth</type><beam number="1">end</beam><notations><articulations><accent /></articulations><technical><down-bow /></technical></notations></note>
            <harmony><root><root-step>F</root-step><root-alter>1</root-alter></root><kind text="m7b5">half-diminished</kind><bass><bass-step>A</bass-step></bass></harmony>
            <direction placement="below"><direction-type><dynamics><mf /></dynamics></direction-type><offset sound="yes">1</offset></direction>
            <note><pitch><step>F</step><alter>1</alter><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type></note>
            <note><rest /><duration>3</duration><voice>1</voice><type>quarter</type><dot /></note>
            </measure>
            </part></score-partwise>

            """;
        Assert.Equal(Expected.ReplaceLineEndings("\n"), Encoding.UTF8.GetString(MusicXmlFile.Bytes(music)));
        Assert.Equal([], MusicXmlSchema.Problems(MusicXmlFile.Written(music)));
    }

    // 5/8 has no usual grouping, so that the file must say whether it is undivided; a bare 4/4 is 2+2.
    [Theory]
    [InlineData(5, 8, "none", "5")]
    [InlineData(5, 8, "3+2", "3+2")]
    [InlineData(4, 4, "2+2", "4")]
    [InlineData(4, 4, "none", "4")]
    [InlineData(9, 8, "3+3+3", "9")]
    [InlineData(9, 4, "(2+2)+(2+3)", "2+2+2+3")]
    [InlineData(13, 16, "3+3+3+4", "3+3+3+4")]
    public void Write_GroupingOfAMeter_IsReadAgain(int units, int unit, string groups, string beats)
    {
        Assert.True(Grouping.TryParse(groups, units, out var grouping, out _));
        var meter = WrittenMeter.Of(new BarMeter(new TimeSignature(units, unit), grouping));
        var music = Score(new Measure("1") { Marks = [new MeterMark(Span.Zero, meter)] }, [new RestEvent(null, Span.Of(units, unit)) { IsWholeMeasure = true }]);
        var written = MusicXmlFile.Written(music);
        Assert.Equal(beats, written.Descendants("beats").Single().Value);
        var read = MusicXmlFile.Music(written).MeterAt(0)!;
        Assert.Equal(grouping, read.Grouping);
        Assert.Equal(grouping, read.ToBarMeter()!.Grouping);
        Assert.Equal([], MusicXmlSchema.Problems(written));
    }

    // A septuplet, an eleventh and thirteenths: 4 x 7 x 11 x 13 x 17 is too fine for one unit, so that each measure has its own.
    [Fact]
    public void Write_DivisionsTooFineForThePart_AreExactInEachMeasure()
    {
        int[] parts = [7, 11, 13, 17, 4];
        var measures = parts.Select((_, index) => new Measure($"{index + 1}") { ActualLength = Span.Of(1, 4) }).ToArray();
        ValueList<PartMeasure> music =
        [
            .. parts.Select(count => new PartMeasure
            {
                Voices = [new VoiceMeasure("1", [.. Enumerable.Range(0, count).Select(_ => (VoiceEvent)new NotesEvent([WrittenNote.Of(new Pitch(new PitchName(NoteLetter.A, 0), 4))], null, Span.Of(1, 4 * count)))])],
            }),
        ];
        var written = MusicXmlFile.Written(new WrittenMusic([.. measures], [new WrittenPart("P1", music)]));
        Assert.Equal(["7", "11", "13", "17", "4"], written.Descendants("divisions").Select(one => one.Value));
        Assert.All(written.Descendants("duration"), one => Assert.Equal("1", one.Value));
        Assert.Equal(music, MusicXmlFile.Music(written).Parts[0].Measures.Select(measure => new PartMeasure
        {
            Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.Select(one => (VoiceEvent)(((NotesEvent)one).WithNotes([.. ((NotesEvent)one).Notes.Select(head => head with { Origin = null })]) with { Origin = null }))] })],
        }));
    }

    [Fact]
    public void Write_DivisionsForThePart_AreSaidOnce()
    {
        var third = new Tuplet(1, 3, 2);
        VoiceEvent triplet = new NotesEvent([Head("D4")], new WrittenValue(new NoteUnit(NoteBase.Sixteenth), third));
        var music = Score(new Measure("1") { ActualLength = Span.Of(1, 4) }, [triplet, triplet, triplet, Note("E4", NoteBase.Eighth)]);
        var written = MusicXmlFile.Written(music);
        Assert.Equal(["6"], written.Descendants("divisions").Select(one => one.Value));
        Assert.Equal(["1", "1", "1", "3"], written.Descendants("duration").Select(one => one.Value));
        Assert.Equal(["start", "stop"], written.Descendants("tuplet").Select(one => one.Attribute("type")!.Value));
    }

    // One measure that stands twice in the score has its tuplet twice.
    [Fact]
    public void Write_SameMeasureTwice_BeginsItsTupletAgain()
    {
        VoiceEvent triplet = new NotesEvent([Head("D4")], new WrittenValue(new NoteUnit(NoteBase.Eighth), new Tuplet(1, 3, 2)));
        var measure = new PartMeasure { Voices = [new VoiceMeasure("1", [triplet, triplet, triplet])] };
        var grid = new Measure("1") { ActualLength = Span.Of(1, 4) };
        var written = MusicXmlFile.Written(new WrittenMusic([grid, grid], [new WrittenPart("P1", [measure, measure])]));
        Assert.Equal(["start", "stop", "start", "stop"], written.Descendants("tuplet").Select(one => one.Attribute("type")!.Value));
        Assert.Equal(["start", "stop", "start", "stop"], written.Descendants("note")
            .Where((_, index) => index is 0 or 2 or 3 or 5).SelectMany(note => note.Descendants("tuplet")).Select(one => one.Attribute("type")!.Value));
    }

    // A clef and a key can have no offset: the file goes to their place.
    [Fact]
    public void Write_AttributesInsideANote_StandAtTheirPlace()
    {
        var measure = new Measure("1") { ActualLength = Span.Of(1, 2), Marks = [new KeyMark(Span.Of(3, 8), new WrittenKey(-1, null))] };
        var music = new WrittenMusic([measure], [new WrittenPart("P1",
        [
            new PartMeasure
            {
                Clefs = [new PlacedClef(Eighth, StaffClef.Bass) { Staff = 2 }],
                Voices = [new VoiceMeasure("1", [Note("D4", NoteBase.Half)]), new VoiceMeasure("2", [Note("D3", NoteBase.Eighth), Note("D3", NoteBase.Quarter, 1)])],
            },
        ])]);
        var read = MusicXmlFile.Music(MusicXmlFile.Written(music));
        Assert.Equal(Span.Of(3, 8), Assert.Single(read.Measures[0].Marks).At);
        Assert.Equal(music.Parts[0].Measures[0].Clefs, read.Parts[0].Measures[0].Clefs);
    }

    [Fact]
    public void Write_NamesThatXmlCannotHave_BecomeOnesThatItCan()
    {
        var part = new WrittenPart("1 a", [new PartMeasure { Voices = [new VoiceMeasure("1", [new NotesEvent([WrittenNote.Unpitched() with { Instruments = ["x y"] }], new WrittenValue(NoteBase.Quarter))])] }])
        {
            Name = "bell\u0001 \uD83D\uDD14 \uD800",
            Instruments = [new PartInstrument("x y", "Bell") { PercussionKey = 55 }],
        };
        var other = new WrittenPart("P1", part.Measures) { Instruments = [new PartInstrument("P1", "Drum")] };
        var written = MusicXmlFile.Written(new WrittenMusic([new Measure("1") { ActualLength = Span.Of(1, 4) }], [part, other]));
        Assert.Equal([], MusicXmlSchema.Problems(written));
        Assert.Equal("bell\uFFFD \uD83D\uDD14 \uFFFD", written.Descendants("part-name").First().Value);
        Assert.Equal(["P1-2", "P1"], written.Root!.Elements("part").Select(one => one.Attribute("id")!.Value));
        Assert.Equal(["P1-2-I1"], written.Descendants("instrument").Select(one => one.Attribute("id")!.Value));
        Assert.Equal("10", written.Descendants("midi-channel").Single().Value);
        Assert.Equal("56", written.Descendants("midi-unpitched").Single().Value);
    }

    // Kinds: MusicXML 4.0, type kind-value. Degrees: element degree-alter.
    [Theory]
    [InlineData("C", "major", "", "")]
    [InlineData("Bbm", "minor", "m", "")]
    [InlineData("F#m7b5/A", "half-diminished", "m7b5", "")]
    [InlineData("C6/9", "major-sixth", "6/9", "add 9 0")]
    [InlineData("C7b9", "dominant", "7b9", "add 9 -1")]
    [InlineData("C7(#9,b13)", "dominant", "7(#9,b13)", "add 9 1,add 13 -1")]
    [InlineData("Cadd9", "major", "add9", "add 9 0")]
    [InlineData("Dsus4", "suspended-fourth", "sus4", "")]
    [InlineData("E5", "power", "5", "")]
    [InlineData("G-7", "minor-seventh", "-7", "")]
    [InlineData("N.C.", "none", "N.C.", "")]
    public void Write_ChordSymbol_HasKindAndDegrees(string text, string kind, string printed, string degrees)
    {
        var symbol = ChordSymbol.Parse(text);
        var harmony = HarmonyOf(symbol);
        var element = harmony.Element("kind")!;
        Assert.Equal(kind, element.Value);
        Assert.Equal(printed, element.Attribute("text")?.Value ?? "");
        Assert.Equal(degrees, string.Join(',', harmony.Elements("degree").Select(one => $"{one.Element("degree-type")!.Value} {one.Element("degree-value")!.Value} {one.Element("degree-alter")!.Value}")));
    }

    // Whatever a chart can write comes back as the same tones.
    [Fact]
    public void Write_AnyChordSymbol_IsReadAsTheSame()
    {
        string[] stems = ["", "m", "dim", "aug", "5", "6", "m6", "6/9", "7", "maj7", "m7", "m(maj7)", "dim7", "m7b5", "9", "maj9", "m9", "11", "m11", "13", "maj13", "sus2", "sus4", "7sus4", "9sus4", "sus24", "aug7", "add9", "madd9"];
        string[] extras = ["", "(b5)", "(#5)", "(b9)", "(#9)", "(#11)", "(b13)", "(no3)", "(no5)", "(add11)", "(b9,#11)", "(#5,#9)"];
        var tried = 0;
        foreach (var text in stems.SelectMany(stem => extras.Select(extra => "Eb" + stem + extra)).SelectMany(chord => new[] { chord, chord + "/Bb" }))
        {
            if (!ChordSymbol.TryParse(text, out var symbol, out _))
            {
                continue;
            }

            tried++;
            var score = ScoreOf(symbol);
            var read = Assert.Single(MusicXmlFile.Music(MusicXmlFile.Written(score)).Measures[0].Chords.Single().Chords);
            Assert.True(symbol.Equals(read.Symbol), $"{text} is read as {read.Symbol} from {read.Kind} {read.KindText}");
        }

        Assert.True(tried > 400, $"only {tried} chords");
    }

    // The chord symbol sounds; a part in B flat writes it a tone higher.
    [Fact]
    public void Write_ChordOverATransposingPart_IsAsThePartReads()
    {
        var music = ScoreOf(ChordSymbol.Parse("Bb7/D"));
        var part = music.Parts[0] with
        {
            Measures = [music.Parts[0].Measures[0] with { Transpositions = [new Transposition(Span.Zero, -2) { Diatonic = -1 }] }],
        };
        var written = MusicXmlFile.Written(new WrittenMusic(music.Measures, [part]));
        Assert.Equal("C", written.Descendants("root-step").Single().Value);
        Assert.Equal("E", written.Descendants("bass-step").Single().Value);
        Assert.Equal(ChordSymbol.Parse("Bb7/D"), MusicXmlFile.Music(written).Measures[0].Chords.Single().Chords[0].Symbol);
    }

    // Source: MusicXML 4.0, "Compressed .mxl files": the media type first and stored, the container names the score.
    [Fact]
    public void WriteArchive_AnyMusic_BeginsWithItsMediaType()
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.EverySignBeside);
        using var stream = new MemoryStream();
        MusicXmlScoreWriter.WriteArchive(music, stream);
        var bytes = stream.ToArray();
        var start = Encoding.Latin1.GetString(bytes, 0, 100);
        Assert.StartsWith("PK\u0003\u0004", start, StringComparison.Ordinal);
        Assert.Equal(0, bytes[8] | (bytes[9] << 8));
        Assert.Equal("mimetype", start.Substring(30, 8));
        Assert.Equal(0, bytes[28] | (bytes[29] << 8));
        Assert.Equal("application/vnd.recordare.musicxml", start.Substring(38, 34));
        using var archive = new ZipArchive(stream, ZipArchiveMode.Read);
        Assert.Equal(["mimetype", "META-INF/container.xml", "score.musicxml"], archive.Entries.Select(entry => entry.FullName));
        using var container = archive.Entries[1].Open();
        var root = Assert.Single(XDocument.Load(container).Descendants("rootfile"));
        Assert.Equal("score.musicxml", root.Attribute("full-path")!.Value);
        Assert.Equal("application/vnd.recordare.musicxml+xml", root.Attribute("media-type")!.Value);
        using var score = archive.Entries[2].Open();
        using var plain = new MemoryStream();
        score.CopyTo(plain);
        Assert.Equal(MusicXmlFile.Bytes(music), plain.ToArray());
        Assert.Null(PlainMusic.Difference(music, MusicXmlFile.Music(bytes, "score.mxl")));
    }

    [Fact]
    public void WriteArchive_SameMusicTwice_HasTheSameBytes()
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.NestedTuplets);
        using var one = new MemoryStream();
        using var other = new MemoryStream();
        MusicXmlScoreWriter.WriteArchive(music, one);
        MusicXmlScoreWriter.WriteArchive(music, other);
        Assert.Equal(one.ToArray(), other.ToArray());
    }

    private static XElement HarmonyOf(ChordSymbol symbol)
    {
        var written = MusicXmlFile.Written(ScoreOf(symbol));
        Assert.Equal([], MusicXmlSchema.Problems(written));
        return written.Descendants("harmony").Single();
    }

    private static WrittenMusic ScoreOf(ChordSymbol symbol) => Score(
        new Measure("1") { ActualLength = Span.Of(1, 4), Marks = [new ChordMark(Span.Zero, [new WrittenChord { Symbol = symbol }])] }, [Note("C4", NoteBase.Quarter)]);

    private static WrittenMusic Score(Measure measure, ValueList<VoiceEvent> events) =>
        new([measure], [new WrittenPart("P1", [new PartMeasure { Voices = [new VoiceMeasure("1", events)] }])]);

    private static NotesEvent Note(string pitch, NoteBase noteBase, int dots = 0) => new([Head(pitch)], new WrittenValue(noteBase, dots));

    private static WrittenNote Head(string pitch)
    {
        Assert.True(Pitch.TryParse(pitch, out var parsed));
        return WrittenNote.Of(parsed);
    }
}
