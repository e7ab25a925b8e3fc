using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>What scores from others contain, each in a small score of our own.</summary>
public sealed class MusicXmlFeatureTests
{
    // A lead sheet in 3+2/8 with a pickup, chords, two verses, endings and jumps in words only.
    private const string LeadSheet =
        """
        <score-partwise version="4.0">
          <movement-title>Tide Table</movement-title>
          <part-list><score-part id="P1"><part-name>Voice</part-name></score-part></part-list>
          <part id="P1">
            <measure number="0" implicit="yes">
              <attributes>
                <divisions>2</divisions><key><fifths>-1</fifths><mode>dorian</mode></key><time><beats>3+2</beats><beat-type>8</beat-type></time>
              </attributes>
              <direction><direction-type><words>Slowly</words></direction-type></direction>
              <note>
                <pitch><step>D</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type>
                <lyric number="1"><syllabic>single</syllabic><text>The</text></lyric><lyric number="2"><syllabic>single</syllabic><text>A</text></lyric>
              </note>
            </measure>
            <measure number="1">
              <barline location="left"><repeat direction="forward"/></barline>
              <harmony><root><root-step>G</root-step></root><kind text="m7">minor-seventh</kind></harmony>
              <note>
                <pitch><step>G</step><octave>4</octave></pitch><duration>3</duration><voice>1</voice><type>quarter</type><dot/>
                <lyric number="1"><syllabic>begin</syllabic><text>har</text></lyric>
                <lyric number="2"><syllabic>single</syllabic><text>light</text><elision>‿</elision><syllabic>single</syllabic><text>is</text></lyric>
              </note>
              <harmony><root><root-step>C</root-step></root><kind>dominant</kind><bass><bass-step>E</bass-step></bass><offset>1</offset></harmony>
              <note>
                <pitch><step>E</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>quarter</type>
                <lyric number="1"><syllabic>end</syllabic><text>bour</text><extend/></lyric>
              </note>
            </measure>
            <measure number="2">
              <barline location="left"><ending number="1" type="start"/></barline>
              <note><pitch><step>F</step><octave>4</octave></pitch><duration>5</duration><voice>1</voice></note>
              <barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/></barline>
            </measure>
            <measure number="3">
              <barline location="left"><ending number="2" type="start"/></barline>
              <direction><direction-type><words>Fine</words></direction-type></direction>
              <note><pitch><step>D</step><octave>4</octave></pitch><duration>5</duration><voice>1</voice></note>
              <barline location="right"><ending number="2" type="discontinue"/></barline>
            </measure>
            <measure number="4">
              <attributes><divisions>12</divisions><time><beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>8</beat-type></time></attributes>
              <note><pitch><step>D</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice><type>eighth</type>
                <time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notations><tuplet type="start"/></notations></note>
              <note><pitch><step>E</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice><type>eighth</type>
                <time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification></note>
              <note><pitch><step>F</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice><type>eighth</type>
                <time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification><notations><tuplet type="stop"/></notations></note>
              <note><pitch><step>D</step><octave>4</octave></pitch><duration>18</duration><voice>1</voice><type>quarter</type><dot/></note>
              <direction><direction-type><words>D.C. al Fine</words></direction-type></direction>
            </measure>
          </part>
        </score-partwise>
        """;

    public static IEnumerable<string> Songs => [LeadSheet];

    [Fact]
    public void Read_LeadSheet_HasEverythingAtItsPlace()
    {
        var reading = MusicXmlFile.Reading(LeadSheet);
        Assert.True(reading.IsRead, string.Join('\n', reading.Errors));
        Assert.Empty(reading.Warnings);
        Assert.Empty(reading.NotCarried);
        var music = reading.Music;
        Assert.Equal(["0", "1", "2", "3", "4"], music.Measures.Select(measure => measure.Number));
        Assert.True(music.Measures[0].IsUncounted);
        Assert.Equal(Span.Of(1, 4), music.LengthOf(0));
        Assert.Equal(["3+2/8", "3+2/8", "3+2/8", "3+2/8", "3/8 + 2/8"], Enumerable.Range(0, 5).Select(index => music.MeterAt(index)!.ToString()));
        Assert.Equal(["5/8", "5/8"], new[] { 1, 4 }.Select(index => music.LengthOf(index).ToString()));
        Assert.Equal("G dorian", music.KeyAt(4)!.ToKey()?.ToString());
        Assert.Equal(["1", "2"], music.Parts[0].Verses);
        Assert.Equal(["0 Gm7", "1/2 C7/E"], music.Measures[1].Chords.Select(chord => $"{chord.At} {chord.Chords[0].Symbol}"));
        Assert.Equal("light‿is", music.Parts[0].Measures[1].Voices[0].Events[0].Lyrics[1].Text);
        Assert.Equal(Extender.Plain, music.Parts[0].Measures[1].Voices[0].Events[1].Lyrics[0].Extender);
        Assert.Equal(["Slowly"], music.Measures[0].Marks.OfType<TempoSign>().Single().Words);
        Assert.Equal(["1/12", "1/12", "1/12", "3/8"], music.Parts[0].Measures[4].Voices[0].Events.Select(one => one.Value!.Length.ToString()));
        Assert.Equal("part P1, measure 4", music.Parts[0].Measures[4].Voices[0].Events[0].Origin!.Path);
        Assert.NotNull(music.Parts[0].Measures[4].Voices[0].Events[0].Origin!.Line);
    }

    // Common practice, no source: after a da capo the last ending is played, and the piece ends at the fine.
    [Fact]
    public void Read_JumpsInWordsOnly_AreFollowed() =>
        Assert.Equal([0, 1, 2, 1, 3, 4, 0, 1, 3], Unfolding.Order(MusicXmlFile.MusicOf(LeadSheet).Measures).Select(played => played.Measure));

    [Theory]
    [InlineData("D.S. al Coda", "1 2 3 4 2 3 5", "", "S", "To Coda", "D.S. al Coda", "C")]
    [InlineData("dal segno, sign in the words", "1 2 3 2 3", "", "S", "Dal Segno")]
    [InlineData("two coda signs, the first to leave at", "1 2 3 4 2 3 5", "", "S", "C", "D.S. al Coda", "C")]
    [InlineData("to coda with its sign", "1 2 3 1 2 4", "", "To Coda C", "D.C. al Coda", "C")]
    [InlineData("coda as a word", "1 2 3 1 2 4", "", "To Coda", "D. C. al Coda", "Coda")]
    [InlineData("coda as a rehearsal mark", "1 2 3 1 2 4", "", "To Coda", "D.C. al Coda", "[Coda]")]
    [InlineData("da capo in full", "1 2 3 1", "Fine", "", "Da Capo al Fine")]
    [InlineData("no segno: the words are only words", "1 2", "", "D.S. al Fine")]
    [InlineData("no jump back: fine is only a word", "1 2", "Fine", "")]
    [InlineData("other words", "1 2", "Fine weather", "D.C. Talk")]
    public void Read_WordsAndSigns_GiveTheOrder(string what, string expected, params string[] signs)
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(1, [.. signs.Select(sign => Signs(sign) + MusicXmlTexts.Note("C4", 4, "whole"))]));
        var order = string.Join(' ', Unfolding.Order(music.Measures).Select(played => played.Measure + 1));
        Assert.True(expected == order, $"{what}: {order}");
    }

    [Fact]
    public void Read_JumpsForPlaybackBesideWords_AreNotDoubled()
    {
        var jump = "<direction><direction-type><words>D.C. al Fine</words></direction-type><sound dacapo=\"yes\"/></direction>";
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1, "<direction><direction-type><words>Fine</words></direction-type></direction><sound fine=\"yes\"/>" + MusicXmlTexts.Note("C4", 4, "whole"), jump + MusicXmlTexts.Note("C4", 4, "whole")));
        Assert.Equal([JumpKind.Fine, JumpKind.DaCapo], music.Measures.SelectMany(measure => measure.Marks).OfType<JumpMark>().Select(mark => mark.Kind));
        Assert.Equal([0, 1, 0], Unfolding.Order(music.Measures).Select(played => played.Measure));
    }

    // Source: MusicXML 4.0, element transpose. A clarinet in B flat sounds a major second lower than written.
    [Fact]
    public void Read_TransposingPart_SoundsAsItSounds()
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1,
            "<attributes><key><fifths>2</fifths><mode>major</mode></key><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
            + "<harmony><root><root-step>D</root-step></root><kind>major-seventh</kind></harmony>" + MusicXmlTexts.Note("F1" + "4", 4, "whole"),
            "<attributes><transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>" + MusicXmlTexts.Note("C4", 4, "whole")));
        var notes = SoundingNotes.OfPart(music, 0);
        Assert.Equal(["F#4", "C4"], notes.Select(note => note.Note.Pitch.ToString()));
        Assert.Equal(["E4", "C3"], notes.Select(note => note.Pitch.ToString()));
        Assert.Equal("Cmaj7", music.Measures[0].Chords.Single().Chords[0].Symbol!.ToString());
        Assert.Equal("C major", new PartTransposition(music.Parts[0]).Sounding(music.KeyAt(0)!, 0, Span.Zero).ToKey()?.ToString());
    }

    // Source: MusicXML 4.0, element octave-shift: pitches are as they sound, not as they are printed.
    [Fact]
    public void Read_OctaveLine_LeavesPitchesAsTheySound()
    {
        var shift = "<direction><direction-type><octave-shift type=\"down\" size=\"8\"/></direction-type></direction>";
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(1, shift + MusicXmlTexts.Note("C6", 4, "whole")));
        Assert.Equal("C6", SoundingNotes.OfPart(music, 0)[0].Pitch.ToString());
    }

    [Fact]
    public void Read_VoicesStavesAndGaps_AreKeptApart()
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            2,
            MusicXmlTexts.Note("C5", 8, "whole", "<staff>1</staff>") + "<backup><duration>8</duration></backup><forward><duration>4</duration></forward>"
            + MusicXmlTexts.Note("E4", 2, "quarter", "<staff>1</staff>").Replace("<voice>1", "<voice>2")
            + "<backup><duration>6</duration></backup>" + MusicXmlTexts.Note("C3", 8, "whole", "<staff>2</staff>").Replace("<voice>1</voice>", "")));
        var voices = music.Parts[0].Measures[0].Voices;
        Assert.Equal(["1: 1", "2: 1/2 1/4 1/4", ": 1"], voices.Select(voice => $"{voice.Name}: {string.Join(' ', voice.Events.Select(one => one.Length))}"));
        Assert.Equal(2, ((NotesEvent)voices[2].Events[0]).Notes[0].Staff);
        Assert.Empty(VoiceCheck.Faults(music));
    }

    [Fact]
    public void Read_ChangesInsideMeasures_AreAtTheirPlaces()
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1,
            "<attributes><time><beats>2</beats><beat-type>4</beat-type></time></attributes>" + MusicXmlTexts.Note("C4", 1, "quarter")
            + "<attributes><divisions>8</divisions><time><beats>3</beats><beat-type>8</beat-type></time></attributes><sound tempo=\"90.5\"/>" + MusicXmlTexts.Note("C4", 12, "quarter", "<dot/>")));
        Assert.Equal(["0 2/4", "1/4 3/8"], music.Measures[0].Marks.OfType<MeterMark>().Select(mark => $"{mark.At} {mark.Meter}"));
        Assert.Equal("5/8", music.LengthOf(0).ToString());
        Assert.Equal((Span.Of(1, 4), new Rational(181, 2)), music.Measures[0].Marks.OfType<TempoSign>().Select(mark => (mark.At, mark.SoundQuarters!.Value)).Single());
    }

    [Fact]
    public void Read_ChordsOfAnotherPart_AreInTheSharedGrid()
    {
        var music = MusicXmlFile.MusicOf(
            "<score-partwise><part id=\"A\"><measure><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>"
            + "<part id=\"B\"><measure><attributes><divisions>4</divisions></attributes><forward><duration>8</duration></forward>"
            + "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root><kind>half-diminished</kind></harmony></measure><measure/></part></score-partwise>");
        Assert.Equal("1/2 Bbm7b5 B", music.Measures[0].Chords.Select(chord => $"{chord.At} {chord.Chords[0].Symbol} {chord.Where[0].Part}").Single());
        Assert.Equal(2, music.Parts[0].Measures.Count);
    }

    [Fact]
    public void Read_WhatIsMissing_IsWarnedOfAndRead()
    {
        var reading = MusicXmlFile.Reading(
            "<score-partwise><part><measure><note><pitch><step>C</step><octave>4</octave></pitch><type>half</type></note>"
            + "<note><pitch><step>D</step><octave>4</octave></pitch><duration>1</duration><type>half</type></note>"
            + "<backup><duration>99</duration></backup></measure></part></score-partwise>");
        Assert.True(reading.IsRead);
        Assert.Equal(
            [
                "score.musicxml:1: a part has no id; called it 'part 1'",
                "score.musicxml:1: the part 'part 1' is not in the part-list; read it without a name",
                "score.musicxml:1: part part 1, measure 1: a note or rest has no duration; read by its note value",
                "score.musicxml:1: part part 1, measure 1: a backup leads before the start of its measure; read from the start of the measure",
                "score.musicxml:1: part part 1, measure 1: a duration differs from its note value; kept both; the duration counts",
            ],
            reading.Warnings.Select(warning => warning.ToString()));
    }

    [Fact]
    public void Read_WhatTheModelDoesNotHold_IsListedOncePerKind()
    {
        var note = MusicXmlTexts.Note("C4", 4, "whole", "<play><mute>on</mute></play><listen/>").Replace("<note>", "<note attack=\"3\" default-x=\"9\">");
        var reading = MusicXmlFile.Reading(MusicXmlTexts.Score(1, "<print/>" + note + note, note + "<grouping type=\"start\"/><sound pan=\"3\"/>").ToString());
        Assert.Equal(
            [
                "how a performance played a note (attack, release, loudness) (3 times, first here)",
                "playback settings (volume, pan, MIDI channel, device) (4 times, first here)",
                "instructions for listening programs (3 times, first here)",
                "grouping elements",
            ],
            reading.NotCarried.Select(remark => remark.What));
    }

    [Fact]
    public void Read_TupletWithoutItsEnd_EndsBeforeThePlainNote()
    {
        var third = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
        var reading = MusicXmlFile.Reading(MusicXmlTexts.Score(
            6,
            MusicXmlTexts.Note("C4", 2, "eighth", third + "<notations><tuplet type=\"start\"/></notations>") + MusicXmlTexts.Note("C4", 2, "eighth", third)
            + MusicXmlTexts.Note("C4", 2, "eighth", third) + MusicXmlTexts.Note("C4", 6, "quarter")).ToString());
        Assert.Equal(["1/12", "1/12", "1/12", "1/4"], reading.Music!.Parts[0].Measures[0].Voices[0].Events.Select(one => one.Value!.Length.ToString()));
        Assert.Equal("a tuplet has no end", reading.Warnings.Single().What);
    }

    // "1.-2." and "1 2" are not in the format, but in real scores.
    [Theory]
    [InlineData("1", "1")]
    [InlineData("1, 2", "1 2")]
    [InlineData("1 2", "1 2")]
    [InlineData("1.-3.", "1 2 3")]
    [InlineData("", "")]
    [InlineData(" ", "")]
    public void Read_NumbersOfAnEnding_AreItsPasses(string number, string passes)
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1, $"<barline location=\"left\"><ending number=\"{number}\" type=\"start\"/></barline>" + MusicXmlTexts.Note("C4", 4, "whole")));
        Assert.Equal(passes, string.Join(' ', music.Measures[0].Marks.OfType<EndingMark>().Single().Numbers));
    }

    [Fact]
    public void Read_NotesWithoutDurationOrGraceNotesInChords_StayInPlace()
    {
        var grace = "<note><grace/><pitch><step>B</step><octave>4</octave></pitch><voice>1</voice><type>eighth</type></note>";
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1,
            grace + MusicXmlTexts.Note("C5", 2, "half") + MusicXmlTexts.Note("E5", 2, "half", before: "<chord/>") + MusicXmlTexts.Note("D5", 2, "half") + grace,
            "<note><rest measure=\"yes\"/><duration>4</duration><voice>1</voice></note><note print-object=\"no\"><rest/><duration>4</duration><voice>2</voice></note>"));
        var events = music.Parts[0].Measures[0].Voices[0].Events.OfType<NotesEvent>().ToList();
        Assert.Equal(["B4", "C5 E5", "D5", "B4"], events.Select(one => string.Join(' ', one.Notes.Select(note => note.Pitch.ToString()))));
        Assert.Equal([false, true], new[] { events[0], events[3] }.Select(one => one.Grace!.IsAfter));
        Assert.Equal(2, music.Parts[0].Measures[1].Voices.Count);
    }

    // Kinds of the MusicXML 4.0 schema (kind-value), and the symbols that are usual for them: common practice, no source.
    [Theory]
    [InlineData("major", "", "C")]
    [InlineData("minor", "", "Cm")]
    [InlineData("augmented", "", "Caug")]
    [InlineData("diminished", "", "Cdim")]
    [InlineData("dominant", "", "C7")]
    [InlineData("major-seventh", "", "Cmaj7")]
    [InlineData("minor-seventh", "", "Cm7")]
    [InlineData("diminished-seventh", "", "Cdim7")]
    [InlineData("augmented-seventh", "", "C7#5")]
    [InlineData("half-diminished", "", "Cm7b5")]
    [InlineData("major-minor", "", "Cm(maj7)")]
    [InlineData("major-sixth", "", "C6")]
    [InlineData("minor-sixth", "", "Cm6")]
    [InlineData("dominant-ninth", "", "C9")]
    [InlineData("major-ninth", "", "Cmaj9")]
    [InlineData("minor-ninth", "", "Cm9")]
    [InlineData("dominant-11th", "", "C11")]
    [InlineData("minor-11th", "", "Cm11")]
    [InlineData("dominant-13th", "", "C13")]
    [InlineData("major-13th", "", "Cmaj13")]
    [InlineData("minor-13th", "", "Cm13")]
    [InlineData("suspended-second", "", "Csus2")]
    [InlineData("suspended-fourth", "", "Csus4")]
    [InlineData("power", "", "C5")]
    [InlineData("none", "", "N.C.")]
    [InlineData("dominant", "9 -1 add", "C7(b9)")]
    [InlineData("dominant", "5 1 alter", "C7(#5)")]
    [InlineData("major", "9 0 add", "C(add9)")]
    [InlineData("dominant", "3 0 subtract", "C7(no3)")]
    public void Read_ChordKind_IsTheUsualSymbol(string kind, string degree, string symbol)
    {
        var parts = degree.Split(' ');
        var inside = degree.Length == 0
            ? ""
            : $"<degree><degree-value>{parts[0]}</degree-value><degree-alter>{parts[1]}</degree-alter><degree-type>{parts[2]}</degree-type></degree>";
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1, $"<harmony><root><root-step>C</root-step></root><kind>{kind}</kind>{inside}</harmony>" + MusicXmlTexts.Note("C4", 4, "whole")));
        Assert.Equal(Music.Harmony.ChordSymbol.Parse(symbol), music.Measures[0].Chords.Single().Chords[0].Symbol);
    }

    // Source: MusicXML 4.0, element kind: "text" is how it is printed after the root. Once a bug: C with "b5" was the power chord on C flat.
    [Theory]
    [InlineData("b5", "C(b5)")]
    [InlineData("♭5", "C(b5)")]
    [InlineData("#11", "C(#11)")]
    [InlineData("(b5)", "C(b5)")]
    [InlineData("sus4", "Csus4")]
    [InlineData("7b9", "C7b9")]
    public void Read_ChordWithATextOfItsOwn_BelongsToItsRoot(string text, string symbol)
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1, $"<harmony><root><root-step>C</root-step></root><kind text=\"{text}\">other</kind></harmony>" + MusicXmlTexts.Note("C4", 4, "whole")));
        Assert.Equal(Music.Harmony.ChordSymbol.Parse(symbol), music.Measures[0].Chords.Single().Chords[0].Symbol);
    }

    // Source: MusicXML 4.0, elements transpose and kind. Once a bug: the root of a chord without a symbol stayed as written.
    [Theory]
    [InlineData("<kind>pedal</kind>", "Bb")]
    [InlineData("<kind>Neapolitan</kind><bass><bass-step>E</bass-step></bass>", "Bb/D")]
    [InlineData("<kind>minor-seventh</kind>", "Bbm7")]
    public void Read_ChordWithoutASymbolInATransposingPart_SoundsAsItSounds(string kind, string symbol)
    {
        var music = MusicXmlFile.Music(MusicXmlTexts.Score(
            1,
            "<attributes><key><fifths>2</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
            + $"<harmony><root><root-step>C</root-step></root>{kind}</harmony>" + MusicXmlTexts.Note("C4", 4, "whole")));
        var song = Music.FromScore.ChartMaker.Make(music, Exchange.Import.ImportedChartText.Options());
        Assert.Equal(symbol, song.Chart.Sections[0].Bars[0].Chords[0].Symbol.Text);
    }

    // Source: the MusicXML 4.0 schema.
    [Fact]
    public void Songs_FollowTheSchema()
    {
        foreach (var song in Songs)
        {
            Assert.Equal([], MusicXmlSchema.Problems(MusicXmlFile.Parse(song)));
        }
    }

    private static string Signs(string signs) => signs switch
    {
        "S" => "<direction><direction-type><segno/></direction-type></direction>",
        "C" => "<direction><direction-type><coda/></direction-type></direction>",
        "To Coda C" => "<direction><direction-type><words>To Coda</words></direction-type><direction-type><coda/></direction-type></direction>",
        "" => "",
        "[Coda]" => "<direction><direction-type><rehearsal>Coda</rehearsal></direction-type></direction>",
        _ => $"<direction><direction-type><words>{signs}</words></direction-type></direction>",
    };
}
