using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;
using GrooveLab.Store;
using GrooveLab.Tests.Conducting;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>The rhythm of words, tapped on the screen while the band plays.</summary>
public sealed class TapWordsTests
{
    // An eighth lasts 0.2 s.
    private const double Eighth = 0.2;

    // Seconds before the first bar line, and 10 ms for a player who is a little late.
    private const double PreRoll = 0.21;

    private const string Song = """
        format = 2
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        form = ["verse", "break", "verse"]
        looseness = 0

        [[section]]
        name = "verse"
        chords = "| Dm | C |"
        [section.tune]
        notes = "| D4:2 F4:1 A4:2 | G4:2 A4:3 |"
        words = WORDS

        [[section]]
        name = "break"
        chords = "| F | G |"
        """;

    public static TheoryData<int, int> Sizes { get; } = new() { { 100, 30 }, { 80, 24 }, { 40, 12 } };

    private static string Written(string words) => Song.Replace("WORDS", words, StringComparison.Ordinal);

    private static TestScreen Playing(string? song = null, string settings = "")
    {
        var screen = new TestScreen(song ?? Written("[\"Two lamps a-lone, light\", \"Ma-ny ca-ni-sters\"]"), settings);
        screen.Press("T");
        return screen;
    }

    private static void At(TestScreen screen, double eighths, string key = "space")
    {
        screen.Play(PreRoll + (eighths * Eighth) - screen.Seconds);
        screen.Press(key);
    }

    private static void Tap(TestScreen screen, params double[] eighths)
    {
        foreach (var eighth in eighths)
        {
            At(screen, eighth);
        }
    }

    private static string RhythmOf(TestScreen screen) => string.Join(
        ' ', screen.Conductor.State.Chart.Sections[0].Tune!.Notes.Select(note => $"{note.Onset / Span.Of(1, 8)}:{note.Length / Span.Of(1, 8)}"));

    private static List<string> Places(IEnumerable<TuneNote> notes) => [.. notes.Select(note => $"{note.Onset}+{note.Length} {note.Pitch} {string.Join(' ', note.Marks.Select(mark => mark.Kind))}")];

    [Fact]
    public void Tap_EverySyllable_WritesTheRhythmAtTheEndOfTheSection()
    {
        var screen = Playing();
        var before = screen.Conductor.State;
        Tap(screen, 0, 1.05, 2.97, 5, 7.5);
        Assert.Same(before, screen.Conductor.State);
        screen.Play(0.6);
        var state = screen.State();
        Assert.Equal("0:1 1:2 3:2 5:5/2 15/2:5/2", RhythmOf(screen));
        Assert.Equal(before.Chart.Sections[0].Tune!.Verses, screen.Conductor.State.Chart.Sections[0].Tune!.Verses);
        Assert.Equal(before.Chart.Sections[0].Tune!.Notes.Select(note => note.Pitch), screen.Conductor.State.Chart.Sections[0].Tune!.Notes.Select(note => note.Pitch));
        Assert.StartsWith("new rhythm in verse: taps ", state.Message, StringComparison.Ordinal);
        Assert.Null(state.Taps);
        screen.Press("u");
        Assert.Equal(before.Chart, screen.Conductor.State.Chart);
    }

    [Fact]
    public void Tap_RestAndDone_EndTheNoteThere()
    {
        var screen = Playing();
        Tap(screen, 0, 1, 3, 5, 6);
        At(screen, 8, "z");
        At(screen, 8.5, "enter");
        Assert.Equal("0:1 1:2 3:2 5:1 6:2", RhythmOf(screen));
    }

    [Fact]
    public void Tap_Doubled_IsTakenBack()
    {
        var screen = Playing();
        Tap(screen, 0, 1, 1.4);
        screen.Press("backspace");
        Tap(screen, 3, 5, 7);
        Assert.Empty(screen.State().Taps!.Syllables);
        screen.Press("enter");
        Assert.Equal("0:1 1:2 3:2 5:2 7:3", RhythmOf(screen));
    }

    [Fact]
    public void Tap_OneMissing_ChangesNothingAndTheNextPlayingCounts()
    {
        var screen = Playing();
        var before = screen.Conductor.State;
        Tap(screen, 0, 1, 3, 5);
        screen.Play(1.2);
        Assert.Equal("4 of 5 syllables tapped, nothing changed; tap them all in one playing of verse", screen.State().Message);
        Assert.Same(before, screen.Conductor.State);
        At(screen, 13);
        Assert.Equal("verse does not play yet", screen.State().Message);
        At(screen, 16);
        Assert.Equal("verse begins at the next bar line", screen.State().Message);

        // The second verse, with its words and a pickup.
        Tap(screen, 19);
        Assert.Equal(["ny", "ca-", "ni-", "sters"], screen.State().Taps!.Syllables);
        Tap(screen, 20, 22, 25, 27);
        screen.Press("enter");
        Assert.Equal("-1:1 0:2 2:3 5:2 7:3", RhythmOf(screen));
    }

    [Fact]
    public void Tap_Left_KeepsTheRhythm()
    {
        var screen = Playing();
        Tap(screen, 0, 1, 3, 5, 7);
        screen.Press("esc");
        screen.Play(1);
        Assert.Null(screen.State().Taps);
        Assert.Equal("0:2 2:1 3:2 5:2 7:3", RhythmOf(screen));
    }

    [Fact]
    public void Tap_PedalAndBoundKey_CountAsTaps()
    {
        var screen = Playing(settings: "[keys]\n\"j\" = \"tap-words\"\n[pedals]\n\"note36\" = \"tap\"\n");
        foreach (var (eighth, index) in new[] { (0.0, 0), (1.0, 1), (3.0, 2) })
        {
            screen.Play(PreRoll + (eighth * Eighth) - screen.Seconds);
            screen.Keys.Pedal(index == 0 ? "note36" : "cc64", screen.Seconds);
        }

        At(screen, 5, "j");
        At(screen, 8, "t");
        screen.Press("enter");
        Assert.Equal("0:1 1:2 3:2 5:3 8:2", RhythmOf(screen));
    }

    // The screen looks at keys some time after they were pressed.
    [Fact]
    public void Tap_KeyHandledLate_CountsWhenItWasPressed()
    {
        var screen = Playing();
        screen.Keys.Clock = () => screen.Seconds;
        foreach (var eighth in new[] { 0.0, 1, 3, 5, 7 })
        {
            screen.Play(PreRoll + (eighth * Eighth) + 0.1 - screen.Seconds);
            screen.Keys.Press("space", screen.Seconds - 0.1);
        }

        screen.Press("enter");
        Assert.Equal("0:1 1:2 3:2 5:2 7:3", RhythmOf(screen));

        // Five taps, each 10 ms late: nine tenths of it are the player's, as players are usually not late.
        Assert.EndsWith(" 9 ms late", screen.State().Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Tap_SectionWithoutATune_SaysSo()
    {
        var screen = Playing();
        screen.Press("esc");
        screen.Type("tap-words break");
        Assert.Equal("break has no tune; write its words or notes in the chart", screen.State().Message);
        screen.Type("tap-words bridge");
        Assert.Equal("no section called 'bridge'; sections: verse, break", screen.State().Message);
        Assert.Null(screen.State().Taps);
    }

    // Once a bug: the message named the start of the section, but the band started in the middle of another.
    [Theory]
    [InlineData(2.7, "T", "verse, bar 1", 4)]
    [InlineData(1.7, "T", "verse, bar 1", 0)]
    [InlineData(4.7, "T", "verse, bar 1", 4)]
    [InlineData(4.7, "tap-words verse", "verse, bar 1", 4)]
    public void Tap_Stopped_StartsTheBandWhereTheTapsAreExpected(double seconds, string asked, string where, int bar)
    {
        var screen = new TestScreen(Written("[\"Two lamps a-lone, light\", \"Ma-ny ca-ni-sters\"]"));
        screen.Play(seconds);
        screen.Press("p");
        var stopped = screen.State().Where;
        if (asked == "T")
        {
            screen.Press("T");
        }
        else
        {
            screen.Type(asked);
        }

        Assert.Equal($"space starts the band at {where}; then one tap of space or pedal for each syllable", screen.State().Message);
        Assert.Equal($"stopped at {where}", screen.State().Where);

        // Left, it starts where it stopped.
        screen.Press("esc");
        Assert.Equal(stopped, screen.State().Where);
        screen.Press("T", "space");
        Assert.Equal(bar, Assert.Single(screen.Starts).Bar);
        screen.Play(0.3);
        Assert.Equal($"verse, bar 1 of 2", screen.State().Where);
    }

    [Fact]
    public void Tap_StoppedForASectionOutsideTheForm_IsRefused()
    {
        var screen = new TestScreen(Written("[\"Two lamps a-lone, light\"]") + "\n[[section]]\nname = \"spare\"\nchords = \"| Dm |\"\n[section.tune]\nnotes = \"| D4:5 |\"\n");
        screen.Play(1);
        screen.Press("p");
        screen.Type("tap-words spare");
        Assert.Equal("'spare' is not in the form; tap the words of a section that the form plays", screen.State().Message);
        Assert.Null(screen.State().Taps);
    }

    [Fact]
    public void Tap_Log_ReplaysTheSameMusic()
    {
        var band = new LedBand(ChartReader.ReadText(Written("[\"Two lamps a-lone, light\"]"), "song").Chart!, new EventSynth(LedBand.Rate)) { KeepsSamples = true };
        var plain = new LedBand(ChartReader.ReadText(Written("[\"Two lamps a-lone, light\"]"), "song").Chart!, new EventSynth(LedBand.Rate)) { KeepsSamples = true };
        band.Read(LedBand.Rate);
        var taps = new double[] { 0, 1, 3, 5, 7.5 }.Select(eighth => new Music.Analysis.GridTap(eighth / 8, 8 * Eighth)).ToList();
        Assert.True(band.Conductor.Do(TappedRhythm.Of(band.Conductor.State.Chart.Sections[0], taps)!.Change).Taken);
        band.Read(8 * LedBand.Rate);
        plain.Read(band.Frame);
        var log = PerformanceLog.Read(band.Conductor.Log.Write());
        var heard = new List<float>();
        LogReplay.Play(log, band.Opening, _ => new EventSynth(LedBand.Rate), LedBand.Options, band.Frame, piece => heard.AddRange(piece));
        Assert.Equal(band.Samples, heard);
        Assert.NotEqual(plain.Samples, heard);
    }

    [Theory]
    [InlineData("rhythm verse | 1/8 1/4 1/4 1/4", "the tune of verse has 5 notes, the rhythm has 4; give one length for each note")]
    [InlineData("rhythm verse | 1/8 1/4 1/4 1/4 1/2", "the rhythm does not fit into the 2 bars of verse and a pickup shorter than a bar")]
    [InlineData("rhythm verse pickup 5/8 | 5/8 1/8 1/8 1/8 1/8", "the rhythm does not fit into the 2 bars of verse and a pickup shorter than a bar")]
    [InlineData("rhythm verse | 1/8 1/4 1/4 x 1/2", "'x' is not a length; write fractions of a whole note such as 1/8, rests as z1/8")]
    [InlineData("rhythm break | 1/8", "break has no tune; write its notes or words in the chart")]
    [InlineData("rhythm verse | 1/8 | 1/8", "write one bar line before all lengths, such as 'rhythm verse | 1/8 1/4', or with a pickup 'rhythm verse pickup 1/8 | 1/8 1/4'")]
    public void Type_WrongRhythm_SaysWhatIsAccepted(string typed, string says)
    {
        var screen = Playing();
        screen.Press("esc");
        screen.Type(typed);
        Assert.Equal(says, screen.State().Message);
    }

    [Theory]
    [InlineData("rhythm verse | 1/8 1/4 1/4 1/4 3/8", "0:1 1:2 3:2 5:2 7:3")]
    [InlineData("rhythm verse pickup 1/8 | 1/4 z1/8 1/4 1/4 1/8 1/8", "-1:2 2:2 4:2 6:1 7:1")]
    public void Read_Rhythm_IsReadBackFromItsWords(string typed, string rhythm)
    {
        var screen = Playing();
        screen.Press("esc");
        screen.Type(typed);
        Assert.Equal(rhythm, RhythmOf(screen));
        var state = screen.Conductor.State;
        var notes = state.Chart.Sections[0].Tune!.Notes.Select(note => (note.Onset, note.Length)).ToList();
        var change = SetRhythm.Of("verse", notes);
        Assert.Equal(typed, change.Words);
        Assert.Equal(change, ChangeWords.Read(change.Words, state));
    }

    // A chart writes thirds of a unit as triplets.
    [Fact]
    public void Save_TappedTriplet_IsWrittenAsOne()
    {
        var text = Written("[\"Two lamps a-lone, light\"]").Replace("5/8 3+2", "3/4", StringComparison.Ordinal).Replace("D4:2 F4:1 A4:2 | G4:2 A4:3", "D4:1 F4 A4 | G4:1 A4:2", StringComparison.Ordinal);
        var opened = PerformanceState.Opening(ChartReader.ReadText(text, "song").Chart!, InstrumentFile.BuiltIn);
        var changed = ((StateChange)ChangeWords.Read("rhythm verse | 1/4 1/12 1/12 1/3 3/4", opened)).ApplyTo(opened, new PerformancePlace(0, 0, 1)).State;
        var written = ChartSaver.Written(ChartDocument.FromText(text, "song"), opened, changed).Document.Text;
        Assert.Contains("| D4:1 {3:2 F4:1/8 A4 G4-} G4:1 | A4:3 |", written, StringComparison.Ordinal);
        Assert.Equal(Places(changed.Chart.Sections[0].Tune!.Notes), Places(ChartReader.ReadText(written, "song").Chart!.Sections[0].Tune!.Notes));
    }

    // A pickup, triplets, a note over the bar line, dynamics and a second voice: all read again as they were.
    [Fact]
    public void Save_RhythmBesideASecondVoice_KeepsIt()
    {
        const string Tune = "notes = \"| D4:2 F4:1 A4:2 | G4:2 A4:3 |\"";
        var text = Written("[\"Two lamps a-lone, light\"]").Replace(Tune, "notes = \"| !p!D4:2 !crescendo(!F4:1 A4:2 | !crescendo)!!f!G4:2 !fermata!A4:3 |\"", StringComparison.Ordinal)
            .Replace("[[section]]\nname = \"break\"", "[[section.line]]\nname = \"alto\"\npickup = \"B3:1\"\nnotes = \"| D4:5 | z:2 C4:3 |\"\nwords = \"Oh, and on\"\n\n[[section]]\nname = \"break\"", StringComparison.Ordinal);
        var opened = PerformanceState.Opening(ChartReader.ReadText(text, "song") is { IsChart: true } read ? read.Chart : throw new InvalidOperationException(string.Join('\n', ChartReader.ReadText(text, "song").Problems)), InstrumentFile.BuiltIn);
        var changed = ((StateChange)ChangeWords.Read("rhythm verse pickup 1/4 | 1/4 z1/8 1/12 1/6 1/2 1/8", opened)).ApplyTo(opened, new PerformancePlace(0, 0, 1)).State;
        var (before, after) = (opened.Chart.Sections[0].Tune!, changed.Chart.Sections[0].Tune!);
        Assert.Equal(Places(before.Lines[0].Notes), Places(after.Lines[0].Notes));
        Assert.Equal(before.Lines[0].Verses, after.Lines[0].Verses);
        Assert.Equal(before.Verses, after.Verses);
        Assert.Equal(before.Notes.Select(note => note.Marks), after.Notes.Select(note => note.Marks));
        Assert.Equal(before.Melody.Dynamics.Select(dynamic => dynamic.Mark), after.Melody.Dynamics.Select(dynamic => dynamic.Mark));
        Assert.Equal(after.Notes[0].Onset, after.Melody.Dynamics[0].Onset);
        var written = ChartSaver.Written(ChartDocument.FromText(text, "song"), opened, changed).Document.Text;
        var again = ChartReader.ReadText(written, "song").Chart!.Sections[0].Tune!;
        Assert.Equal(Places(after.Notes), Places(again.Notes));
        Assert.Equal(after.Melody.Dynamics, again.Melody.Dynamics);
        Assert.Equal(Places(after.Lines[0].Notes), Places(again.Lines[0].Notes));
    }

    // An ending's pickup fills the rest at the end of the section's own bars.
    [Fact]
    public void Type_RhythmOverAnEndingsPickup_IsRefused()
    {
        var screen = Playing(Written("[\"Two lamps a-lone, light\"]").Replace("A4:2 | G4:2 A4:3", "A4:2 | G4:2 A4:2 z:1", StringComparison.Ordinal).Replace(
            "[[section]]\nname = \"break\"",
            "[[section.ending]]\nchords = \"| G |\"\n[section.ending.tune]\npickup = \"C4:1\"\nnotes = \"| D4:5 |\"\n\n[[section]]\nname = \"break\"",
            StringComparison.Ordinal));
        screen.Press("esc");
        var before = screen.Conductor.State;
        screen.Type("rhythm verse | 1/8 1/4 1/4 1/4 3/8");
        Assert.Same(before, screen.Conductor.State);
        Assert.True(screen.State().MessageWarns);
        Assert.Contains("pickup", screen.State().Message, StringComparison.Ordinal);
        screen.Type("rhythm verse | 1/8 1/4 1/4 1/4 1/4");
        Assert.Equal("0:1 1:2 3:2 5:2 7:2", RhythmOf(screen));
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_WhileTapping_ShowsTheNextSyllableLarge(int width, int height)
    {
        var screen = Playing();
        Tap(screen, 0, 1);
        Golden.Equal(string.Create(CultureInfo.InvariantCulture, $"tap-words-{width}x{height}"), screen.Picture(width, height).ToString());
    }
}
