using System.Globalization;
using GrooveLab.Audio.Devices;
using GrooveLab.Commands;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Recast;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Tests.Store;
using Xunit;

namespace GrooveLab.Tests.Saving;

/// <summary>A song that was moved into another meter on the screen, saved into a chart that was laid out by hand.</summary>
public sealed class RecastSavingTests : StoreFolder
{
    private const string Net = """"
        # Net and Needle -- for Saturday
        format = 2
        title   = "Net and Needle"     # ours
        key     = "D dorian"           # capo 2
        tempo   = "quarter = 120"
        meter   = "4/4"                # common time
        form    = ["verse", "chorus", "verse", "chorus"]

        [[part]]
        role = "bass"
        instrument = "cello"   # or the tuba

        [[part]]
        role = "tune"
        instrument = "fiddle"

        # --- how it begins ------------------------------
        [[section]]
        name   = "verse"      # twice
        chords = """
        | Dm   | C  Am | F      |
        """

        [section.tune]
        # learn this by Friday
        pickup = "A3:1"
        notes  = """
        | D4:1 E4 F4:2 | G4:1. F4:0.5 E4:1 C4 | A4:3 A3:1 |
        """
        words  = [
          "The | net is torn | right through the mid- | dle, The",
          "The | tide is low | all down the har- | bour, The",
        ]

        [[section.ending]]
        chords = "| Dm |"     # first time
        [section.ending.tune]
        notes = "| D4:4 |"
        words = "mend"

        [[section.ending]]
        chords = "| Gm | Dm |"     # home
        [section.ending.tune]
        notes = "| Bb3:2 C4 | D4:4 |"
        words = "mend it _"

        [[section]]
        name   = "chorus"
        tempo  = "quarter = 132"     # a little faster
        chords = "| F | C | [2/4] Am | Dm |"
        """";

    private PerformanceOptions Options => new() { Path = Song, Data = Data, Open = source => PacedClockOutput.Open(AudioOutputs.DefaultSampleRate, source) };

    public static TheoryData<string, string> All
    {
        get
        {
            var all = new TheoryData<string, string>();
            foreach (var name in ChartsByHand.Names)
            {
                foreach (var words in new[] { "recast 5/8", "recast 7/8", "recast 5/4 none by bar", "recast 6/8 by bar in SECTION", "recast 5/16 none by beat in SECTION" })
                {
                    all.Add(name, words);
                }
            }

            return all;
        }
    }

    private static void Do(LivePerformance performance, string words)
    {
        var answer = performance.Conductor.Do(words);
        Assert.True(answer.Taken, words + ": " + answer.Says);
        while (performance.Conductor.Waiting is not null)
        {
            // New bars are made on another thread.
            performance.Conductor.Update([], performance.Heard);
        }

        Assert.Null(performance.Conductor.TakeRefusal());
    }

    private LivePerformance Open(string text)
    {
        File.WriteAllText(Song, text);
        return LivePerformance.Open(Options);
    }

    private static string[] Sounds(Chart chart)
    {
        var band = new BarComposer(PerformanceState.Opening(chart, InstrumentFile.BuiltIn).Chart);
        return [.. Enumerable.Range(0, band.End!.Value).Select(band.BarAt).Select(Said)];
    }

    private static string Said(Bar bar) => string.Join(' ',
        [
            bar.Section, bar.Meter.ToString(), bar.Felt.ToString(), Math.Round(bar.Tempi[0].Tempo.WholesPerMinute.ToDouble(), 1).ToString(CultureInfo.InvariantCulture),
            .. bar.Chords.Select(chord => $"{chord.Onset} {chord.Symbol.Text}"),
            .. bar.Notes.Select(note => $"{note.Part} {note.Onset} {note.Key} {note.Length}"),
            .. bar.Remarks.Select(remark => remark.ToString()),
        ]);

    private static IEnumerable<string> Remarks(string text) => text.Split('\n').Where(line => line.Contains('#')).Select(line => line[line.LastIndexOf('#')..].Trim()).Order(StringComparer.Ordinal);

    [Theory]
    [InlineData("recast 5/8 3+2 by half-bar")]
    [InlineData("recast 7/8 by bar")]
    [InlineData("recast 5/4 add-beat 4")]
    [InlineData("recast 5/8 by half-bar in verse")]
    [InlineData("recast 5/8 by half-bar in chorus")]
    public void Save_ARecastSong_TheFileSoundsAsHeardAndKeepsEveryRemarkAndUndoGivesTheOldFile(string words)
    {
        using var performance = Open(Net);
        Do(performance, words);
        var answer = performance.Save(null);

        Assert.True(answer.Taken, answer.Says);
        Assert.DoesNotContain("the whole chart was reformatted", answer.Says, StringComparison.Ordinal);
        var read = ChartReader.ReadText(Read(Song), "song");
        Assert.True(read.IsChart, string.Join('\n', read.Problems) + Read(Song));
        Assert.Equal(Sounds(performance.Conductor.State.Chart), Sounds(read.Chart));
        Assert.Equal(Remarks(Net), Remarks(Read(Song)));
        Assert.Equal("no changes to save", performance.Save(null).Says);

        Do(performance, "undo");
        Assert.True(performance.Save(null).Taken);
        Assert.Equal(Net, Read(Song));
        Do(performance, "redo");
        Assert.True(performance.Save(null).Taken);
        Assert.Equal(Sounds(performance.Conductor.State.Chart), Sounds(ChartReader.ReadText(Read(Song), "song").Chart!));
    }

    // As the command does, which knows the stresses of English words.
    [Fact]
    public void Recast_OfEnglishWords_IsThatOfTheCommand()
    {
        using var performance = Open(Net);
        Do(performance, "recast 7/8 by bar");

        var song = ChartReader.ReadText(Net, "song").Chart!;
        var wish = new TreatmentWish(new TimeSignature(7, 8)) { Span = SourceSpan.Bar };
        var treatments = TreatmentChoice.Treatments(song, wish);
        var made = TreatmentChoice.Cheapest(song, treatments, RecastCommand.WithStresses(new RecastOptions(treatments[0]), song));
        var stresses = made.Recasting.Stretches[0].Lines[0].Select(note => note.Stresses[0]);
        var heard = performance.Conductor.State.Recasts[0].Stretches[(0, 0)].Lines[0];
        Assert.Equal(stresses, heard.Select(note => note.Stresses[0]));
        Assert.Equal(made.Recasting.Stretches[0].Lines[0].Select(note => note.To), heard.Select(note => note.To));
        Assert.Contains(SyllableStress.Unstressed, stresses);
    }

    [Fact]
    public void Leave_WithoutSaving_TheRecastSongComesBack()
    {
        string[] heard;
        using (var performance = Open(Net))
        {
            Do(performance, "recast 5/8 3+2 by half-bar");
            heard = Sounds(performance.Conductor.State.Chart);
            performance.Stop();
        }

        using var again = LivePerformance.Open(Options);
        Assert.StartsWith("unsaved changes from ", again.Offer, StringComparison.Ordinal);
        Do(again, "recall unsaved");
        Assert.Equal(heard, Sounds(again.Conductor.State.Chart));
    }

    [Theory]
    [MemberData(nameof(All))]
    public void Written_AChartByHand_IsReadAsItIsHeard(string name, string words)
    {
        var text = ChartsByHand.Text(name);
        var document = ChartDocument.FromText(text, name);
        var opened = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var history = new PerformanceHistory(opened);
        try
        {
            history.Do(words.Replace("SECTION", opened.Chart.Sections[0].Name, StringComparison.Ordinal), new PerformancePlace(0, 0, 1));
        }
        catch (ChangeRefusedException refused)
        {
            // Plain words say what would fit.
            Assert.Matches("; |fewer", refused.Message);
            Assert.Same(opened, history.State);
            return;
        }

        var written = ChartSaver.Written(document, opened, history.State);
        Assert.False(written.IsReformatted, string.Join('\n', written.Reasons));
        Assert.Equal(Sounds(history.State.Chart), Sounds(written.Document.Read().Chart!));
    }
}
