using CsCheck;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using Xunit;

namespace GrooveLab.Tests.Changes;

/// <summary>Changes in words, and the records read from them.</summary>
public sealed class ChangeWordsTests
{
    private const string Text = """
        format = 1
        title = "Three Buoys"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        form = ["verse one", "refrain"]

        [[section]]
        name = "verse one"
        chords = "| Dm | C | G | [2/4] Dm |"

        [[section]]
        name = "refrain"
        chords = "| F | C | G | Am |"
        [section.tune]
        notes = "| A4:5 | G4:5 | G4:5 | A4:5 |"
        """;

    private static readonly PerformancePlace Start = new(0, 0, 1);

    // Once a bug: the section that was not found was among those offered.
    [Theory]
    [InlineData("jump coda", "'coda' is played only in the tag; sections: verse one, refrain")]
    [InlineData("section spare", "'spare' is not in the form; sections: verse one, refrain")]
    [InlineData("jump Coda 2", "no section called 'Coda 2'; sections: verse one, refrain")]
    public void Read_SectionOutsideTheForm_IsRefusedWithTheSectionsOfTheForm(string words, string says)
    {
        const string more = "\n[[section]]\nname = \"coda\"\nchords = \"| Dm |\"\n\n[[section]]\nname = \"spare\"\nchords = \"| C |\"\n";
        var chart = ChartReader.ReadText(Text.Replace("meter =", "tag = [\"coda\"]\nmeter =", StringComparison.Ordinal) + more, "chart").Chart!;
        var state = PerformanceState.Opening(chart, InstrumentFile.BuiltIn);
        var change = (StateChange)ChangeWords.Read(words, state);
        Assert.Equal(says, Assert.Throws<ChangeRefusedException>(() => change.ApplyTo(state, Start)).Message);
    }

    private static PerformanceState State { get; } =
        PerformanceState.Opening(ChartReader.ReadText(Text, "chart").Chart!, InstrumentFile.BuiltIn);

    [Theory]
    [InlineData("tempo 120")]
    [InlineData("tempo 62.5")]
    [InlineData("tempo bar = 60")]
    [InlineData("tempo dotted quarter = 96")]
    [InlineData("tempo unit = 250")]
    [InlineData("tempo bar group = 14")]
    [InlineData("tempo 1/12 = 300")]
    [InlineData("tempo by 4")]
    [InlineData("tempo by -4")]
    [InlineData("ramp eighth = 320 over 8")]
    [InlineData("ramp by -20 over 2")]
    [InlineData("meter 7/8 2+2+3")]
    [InlineData("meter 19/8 (3+2+2)+(3+2)+(3+2+2)")]
    [InlineData("grouping 2+3")]
    [InlineData("recast 5/8")]
    [InlineData("recast 5/8 3+2 by half-bar")]
    [InlineData("recast 7/8 by beat")]
    [InlineData("recast 5/4 none add-beat 4")]
    [InlineData("feel unit")]
    [InlineData("feel bar-group")]
    [InlineData("feel wider")]
    [InlineData("feel narrower")]
    [InlineData("feel other")]
    [InlineData("level hammered dulcimer -3")]
    [InlineData("level plucked bass 2.5")]
    [InlineData("level cello by -1.5")]
    [InlineData("pan cello -30")]
    [InlineData("mute cello")]
    [InlineData("mute cello on")]
    [InlineData("solo hammered dulcimer off")]
    [InlineData("role cello bass")]
    [InlineData("instrument cello octave fiddle")]
    [InlineData("add roll")]
    [InlineData("add roll hammered dulcimer")]
    [InlineData("remove plucked bass")]
    [InlineData("count")]
    [InlineData("count off")]
    [InlineData("count bars")]
    [InlineData("crossing hammered dulcimer land")]
    [InlineData("density hammered dulcimer quarter")]
    [InlineData("laid-back cello half")]
    [InlineData("key F# minor")]
    [InlineData("up -3")]
    [InlineData("section verse one")]
    [InlineData("jump refrain")]
    [InlineData("loop 2 4")]
    [InlineData("loop 2 4 in refrain")]
    [InlineData("loop 2 4 in verse one")]
    [InlineData("loop verse one")]
    [InlineData("loop section")]
    [InlineData("loop seam")]
    [InlineData("loop off")]
    [InlineData("vamp")]
    [InlineData("go-on")]
    [InlineData("last-time")]
    [InlineData("hold")]
    [InlineData("tag 2")]
    [InlineData("break 1")]
    [InlineData("restart")]
    [InlineData("count-in")]
    [InlineData("count-in off")]
    [InlineData("chords verse one | Dm | C / G / / | F | [2/4] Am |")]
    [InlineData("tempo 120 here")]
    [InlineData("chords verse one ending 1 | Am |")]
    [InlineData("rhythm verse one | 1/8 z1/8 1/4")]
    [InlineData("rhythm verse one pickup 3/8 | 1/8 1/12 1/6")]
    [InlineData("tempo 80% here")]
    [InlineData("tempo learner here")]
    [InlineData("tempo by -4 here")]
    [InlineData("ramp 140 over 4 here")]
    [InlineData("tempo bar = 60 in verse one")]
    [InlineData("tempo by -4 in refrain")]
    [InlineData("meter 7/8 2+2+3 here")]
    [InlineData("meter 7/8 2+2+3 in verse one")]
    [InlineData("grouping 2+3 here")]
    [InlineData("recast 5/8 2+3 by bar here")]
    [InlineData("feel bar here")]
    [InlineData("feel wider in refrain")]
    [InlineData("key E dorian here")]
    [InlineData("up -2 in verse one")]
    [InlineData("here")]
    [InlineData("without cello")]
    [InlineData("without cello off")]
    [InlineData("register cello C3-C5")]
    [InlineData("register cello usual")]
    [InlineData("rename cello to low one")]
    [InlineData("strokes bouzouki heavy")]
    [InlineData("strokes bouzouki down")]
    [InlineData("damped bouzouki")]
    [InlineData("damped bouzouki off")]
    [InlineData("voices cello 2")]
    [InlineData("share bouzouki between")]
    [InlineData("strum-ms bouzouki 9")]
    [InlineData("hand-limit-ms hammered dulcimer 90")]
    [InlineData("hand-limit-ms hammered dulcimer usual")]
    [InlineData("approaches plucked bass 0.25")]
    [InlineData("ring plucked bass 0.6")]
    [InlineData("ring plucked bass usual")]
    [InlineData("octaves concertina -1")]
    [InlineData("consonants concertina on")]
    [InlineData("phrasing concertina off")]
    [InlineData("ending on")]
    [InlineData("ending off")]
    [InlineData("ending G6/9")]
    [InlineData("master -6")]
    [InlineData("master by 2")]
    [InlineData("undo")]
    [InlineData("redo")]
    [InlineData("keep b")]
    [InlineData("hear a")]
    [InlineData("hear other")]
    [InlineData("version slow one")]
    [InlineData("recall slow one")]
    public void Read_ThenWords_SaysTheSameAndReadsEqual(string words)
    {
        var change = ChangeWords.Read(words, State);

        Assert.Equal(words, change.Words);
        Assert.Equal(change, ChangeWords.Read(change.Words, State));
    }

    [Fact]
    public void All_Forms_NameEveryKindOfChangeOnce()
    {
        var kinds = typeof(Change).Assembly.GetTypes().Where(type => type.IsSubclassOf(typeof(Change)) && !type.IsAbstract).Select(type => type.Name).Order();

        // A share of the tempo has the verb of the tempo, and up has a second verb, down.
        var read = ChangeWords.All.Where(form => form.Verb != "down").Select(form => form.Read(Rest(form), State).GetType().Name).Append(nameof(SetPace)).Order();

        Assert.Equal(kinds, read);
        Assert.Equal(ChangeWords.All.Count, ChangeWords.All.Select(form => form.Verb).Distinct().Count());
        Assert.All(ChangeWords.All, form => Assert.Equal(form.Verb, form.Usage.Split(' ')[0]));
    }

    // The first example of a usage, with names from the chart.
    private static string Rest(ChangeForm form) => string.Join(' ', form.Usage.Split(" | ", 2)[0].Split(' ').Skip(1))
        .Replace("PART", form.Verb is "crossing" or "density" ? "hammered dulcimer" : "cello", StringComparison.Ordinal)
        .Replace("SECTION", "refrain", StringComparison.Ordinal)
        .Replace("NAME", "refrain", StringComparison.Ordinal)
        + form.Verb switch { "chords" => " | Am | G |", "rhythm" => " | 1/8 1/4", _ => string.Empty };

    [Fact]
    public void Level_ANumberOrBy_SetsOrAddsWhateverItsSign()
    {
        static double After(string words) => ((StateChange)ChangeWords.Read(words, State)).ApplyTo(State, Start).State.Chart.Parts.Single(part => part.Name == "cello").LevelDecibels;
        var level = State.Chart.Parts.Single(part => part.Name == "cello").LevelDecibels;

        Assert.Equal(-3, After("level cello -3"));
        Assert.Equal(3, After("level cello 3"));
        Assert.Equal(3, After("level cello +3"));
        Assert.Equal(level + 3, After("level cello by 3"));
        Assert.Equal(level - 3, After("level cello by -3"));
    }

    [Theory]
    [InlineData("tempo -4", "write tempo by -4")]
    [InlineData("tempo +4", "write tempo by 4")]
    [InlineData("tempo", "incomplete; usage: tempo 120")]
    [InlineData("temp 120", "did you mean tempo?")]
    [InlineData("xyzzy", "unknown command 'xyzzy'; press ? for the list")]
    [InlineData("level trombone 3", "no part called 'trombone'; parts: bouzouki")]
    [InlineData("level cello 70", "accepted: -60 to 6")]
    [InlineData("role cello conductor", "accepted: pulse, roll, bass, sustain and tune")]
    [InlineData("instrument cello kazoo", "unknown instrument 'kazoo'; for the sustain: ")]
    [InlineData("crossing cello free", "only a roll can cross the groups")]
    [InlineData("meter 5/8 3+3", "adds up to 6")]
    [InlineData("vamp now", "'vamp' takes no arguments")]
    [InlineData("go-on", "nothing to release: the band is not waiting")]
    [InlineData("undo", "nothing to undo")]
    [InlineData("recall slow", "no saved versions")]
    [InlineData("section coda", "no section called 'coda'; sections: verse one, refrain")]
    [InlineData("chords refrain | Am | G |", "the tune of refrain needs 4 bars")]
    [InlineData("chords refrain | H7 |", "'H7'")]
    [InlineData("loop 1 99", "the form has 8 bars")]
    [InlineData("loop 5 6 in refrain", "refrain has 4 bars; use loop 1 4, or name another section: loop 1 2 in verse one")]
    [InlineData("loop 4 2 in refrain", "bar 2 comes before bar 4; give the first bar, then the last: loop 2 4")]
    [InlineData("loop 1 2 refrain", "unexpected 'refrain' after 'loop 1 2'; usage: loop 5 8 | 5 8 in NAME")]
    [InlineData("loop 1 2 in coda", "no section called 'coda'; sections: verse one, refrain")]
    [InlineData("loop refrai", "no section called 'refrai'; did you mean refrain?")]
    [InlineData("loop 3", "give the first and the last bar to loop: loop 3 3")]
    [InlineData("ramp 120 over 8 seconds", "unexpected 'seconds' after 'ramp 120 over 8'; usage: ramp 140 over 8")]
    public void Do_WordsThatCannotBe_AreRefusedWithWhatIsAccepted(string words, string says)
    {
        var history = new PerformanceHistory(State);
        var refused = Assert.Throws<ChangeRefusedException>(() => history.Do(words, Start));

        Assert.Contains(says, refused.Message, StringComparison.Ordinal);
        Assert.Same(State, history.State);
    }

    [Theory]
    [InlineData("verse one", "| Dm | C | G | [2/4] Dm |")]
    [InlineData("verse one", "| Am |")]
    [InlineData("verse one", "| Am G | % | / / F / / | N.C. | [7/8 2+2+3] C G Am |")]
    [InlineData("refrain", "| Bb | Eb/G | F / / C / | Dm7 Gm |")]
    public void Chords_Typed_AreThoseThatAChartsFileWouldHave(string section, string marks)
    {
        var typed = ((StateChange)ChangeWords.Read($"chords {section} {marks}", State)).ApplyTo(State, Start).State.Chart;
        var old = State.Chart.Sections.Single(other => other.Name == section).Name == "refrain" ? "| F | C | G | Am |" : "| Dm | C | G | [2/4] Dm |";
        var file = ChartReader.ReadText(Text.Replace(old, marks, StringComparison.Ordinal), "chart").Chart!;

        Assert.Equal(Plain(file, section), Plain(typed, section));
    }

    private static IEnumerable<string> Plain(Chart chart, string section) => chart.Sections.Single(other => other.Name == section).Bars
        .Select(bar => $"{bar.Meter} {bar.Inserted} {string.Join(' ', bar.Chords.Select(chord => $"{chord.Onset}+{chord.Length} {chord.Symbol.Text}"))}");

    [Fact]
    public void Read_RandomWords_NeverFailsOtherwiseThanByRefusing()
    {
        var words = ChangeWords.All.SelectMany(form => form.Usage.Split(' ')).Append("by").Append("cello").Append("").Append("\u266d").Append("=").Append("9/8")
            .Append("-").Append("99999999999999999999").Append("1/3").Append("NaN").ToArray();
        Gen.Int[0, words.Length - 1].Select(at => words[at]).Array[0, 6].Sample(picked =>
        {
            try
            {
                var history = new PerformanceHistory(State);
                history.Do(string.Join(' ', picked), Start);
            }
            catch (ChangeRefusedException refused)
            {
                Assert.NotEmpty(refused.Message);
            }
        });
    }

    [Theory]
    [InlineData("level hammered -10", "hammered dulcimer", -10)]
    [InlineData("level dulcimer -10", "hammered dulcimer", -10)]
    [InlineData("level DULCIMER by 1", "hammered dulcimer", 1)]
    [InlineData("level 2 -3", "second fiddle", -3)]
    [InlineData("level second -3", "second fiddle", -3)]
    [InlineData("level fiddle -3", "fiddle", -3)]
    public void Read_PartByNumberOrAWordOfItsName_IsThatPart(string words, string part, double level) =>
        Assert.Equal(new SetLevel(part, level, words.Contains(" by ", StringComparison.Ordinal)), ChangeWords.Read(words, WithFiddles()));

    [Theory]
    [InlineData("level whistle -3", "several parts are called 'whistle': 4 low whistle, 5 high whistle; give the number or the whole name")]
    [InlineData("mute 6", "no part called '6'; parts: ")]
    [InlineData("mute 0", "no part called '0'; parts: ")]
    public void Read_PartThatIsNotClear_IsRefusedWithTheChoices(string words, string says) =>
        Assert.StartsWith(says, Assert.Throws<ChangeRefusedException>(() => ChangeWords.Read(words, WithFiddles())).Message, StringComparison.Ordinal);

    private static PerformanceState WithFiddles()
    {
        var state = State;
        var part = state.Chart.Parts[0];
        return state with
        {
            Chart = state.Chart with
            {
                Parts = [.. new[] { "hammered dulcimer", "second fiddle", "fiddle", "low whistle", "high whistle" }.Select(name => part with { Name = name })],
            },
        };
    }
}
