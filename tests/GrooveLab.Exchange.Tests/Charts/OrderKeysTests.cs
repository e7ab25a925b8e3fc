using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>What a chart says about its arrangement: read, refused with a remedy, kept when the band changes.</summary>
public sealed class OrderKeysTests
{
    private const string Band = "[[part]]\nrole = \"pulse\"\n[[part]]\nrole = \"roll\"\n[[part]]\nrole = \"bass\"\n[[part]]\nrole = \"tune\"\n";

    [Fact]
    public void Read_AllKeys_AreOrdersOfTheSection()
    {
        var section = Section("energy = [2, 4]\ntasks = [\"roll: rests, off-beats\", \"plucked bass: thin\"]\nfill = \"bass\"");

        Assert.Equal([2, 4], section.Orders!.Energies);
        Assert.Equal([new PartOrders(1, [PartTask.Rests, PartTask.OffBeats]), new PartOrders(2, [PartTask.Thin])], section.Orders.Tasks);
        Assert.Equal(2, section.Orders.Fill);
    }

    [Fact]
    public void Read_OneNumberOneTextNoFill_AreAccepted()
    {
        var orders = Section("energy = 1\ntasks = \"roll: high\"\nfill = \"none\"").Orders!;

        Assert.Equal([1], orders.Energies);
        Assert.Equal([new PartOrders(1, [PartTask.High])], orders.Tasks);
        Assert.Equal(SectionOrders.NoFill, orders.Fill);
        Assert.Null(Section("").Orders);
    }

    [Theory]
    [InlineData("none", false)]
    [InlineData("form", true)]
    public void Read_Arrangement_IsOnOrOff(string word, bool isArranged) =>
        Assert.Equal(isArranged, ChartTexts.Chart($"arrangement = \"{word}\"\n" + ChartTexts.WithSection("chords = \"Dm\"")).IsArranged);

    [Theory]
    [InlineData("energy = 6", "from 1 to 5")]
    [InlineData("energy = [2, \"loud\"]", "from 1 to 5")]
    [InlineData("energy = []", "energy = 3")]
    [InlineData("tasks = [\"roll rests\"]", "no colon")]
    [InlineData("tasks = [\"roll: rest\"]", "did you mean 'rests'")]
    [InlineData("tasks = [\"roll: break\"]", "no task called 'break'")]
    [InlineData("tasks = [\"roll:\"]", "a task is missing")]
    [InlineData("tasks = [\"roll: high\", \"roll: thin\"]", "two entries")]
    [InlineData("fill = \"drummer\"", "'pulse', 'roll' and 'bass'")]
    [InlineData("tasks = [\"fiddel: rests\"]", "no part called 'fiddel'")]
    [InlineData("tasks = [\"tune: rests\"]", "leaves alone")]
    [InlineData("tasks = 3", "list of texts")]
    [InlineData("fill = \"rol\"", "did you mean 'roll'")]
    [InlineData("fill = \"tune\"", "cannot play a fill")]
    public void Read_WrongOrder_NamesItsLineAndTheRemedy(string line, string says)
    {
        var problem = Assert.Single(ChartTexts.Problems(ChartTexts.Top + Band + "[[section]]\nchords = \"Dm\"\n" + line + "\n"));

        Assert.Equal(16, problem.Line);
        Assert.Contains(says, problem.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Read_WrongArrangement_NamesTheWords() =>
        Assert.Contains("\"form\" or \"none\"", Assert.Single(ChartTexts.Problems("arrangement = \"loop\"\n" + ChartTexts.WithSection("chords = \"Dm\""))).ToString(), StringComparison.Ordinal);

    [Fact]
    public void Save_PartRemoved_OrdersOfTheOthersStay()
    {
        var document = ChartDocument.FromText(
            ChartTexts.Top + Band + "[[section]]\ntasks = [\"roll: rests\", \"bass: thin, full\"]\nfill = \"roll\"\nchords = \"Dm\"\n", "song.toml");
        var state = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var history = new PerformanceHistory(state);
        history.Do("remove roll", new PerformancePlace(0, 0, 1));
        history.Do("arrangement none", new PerformancePlace(0, 0, 1));

        var written = ChartDifference.Write(document, state.Chart, history.State.Chart);
        var read = written.Document.Read().Chart!;

        Assert.False(written.IsReformatted);
        Assert.Equal([new PartOrders(1, [PartTask.Thin, PartTask.Full])], read.Sections[0].Orders!.Tasks);
        Assert.Null(read.Sections[0].Orders!.Fill);
        Assert.False(read.IsArranged);
    }

    // Once a bug: the saved text still named the role, which now meant another part, and the whole file was reformatted.
    [Fact]
    public void Save_RoleNamedInTasksMeansOthersNow_OnlyItsLinesChange()
    {
        var text = ChartTexts.Top + Band + "[[section]]\nchords   =   \"Dm\"   # as we play it\ntasks = [\"roll: rests\"]\nfill = \"roll\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var state = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var roll = state.Chart.Parts[1].Name;
        var history = new PerformanceHistory(state);
        history.Do($"role {roll} pulse", new PerformancePlace(0, 0, 1));
        history.Do("add roll banjo", new PerformancePlace(0, 0, 1));
        var written = ChartDifference.Write(document, state.Chart, history.State.Chart);
        var saved = written.Document;
        var read = saved.Read().Chart!;

        Assert.False(written.IsReformatted, string.Join('\n', written.Reasons) + saved.Text);
        Assert.Contains("chords   =   \"Dm\"   # as we play it", saved.Text, StringComparison.Ordinal);
        Assert.Equal([new PartOrders(1, [PartTask.Rests])], read.Sections[0].Orders!.Tasks);
        Assert.Equal(1, read.Sections[0].Orders!.Fill);
    }

    [Theory]
    [InlineData("\"hammered dulcimer: rests\", \"roll: high\"")]
    [InlineData("\"roll: high\", \"hammered dulcimer: rests\"")]
    public void Read_TasksOfANameAndOfItsRole_TheNameCounts(string tasks) =>
        Assert.Equal([new PartOrders(1, [PartTask.Rests])], Section($"tasks = [{tasks}]").Orders!.Tasks);

    [Fact]
    public void Read_FillOfARole_MeansAPartThatPlaysThere()
    {
        var band = Band + "[[part]]\nrole = \"roll\"\nname = \"other\"\n";
        var section = ChartTexts.Chart(ChartTexts.Top + band + "[[section]]\nchords = \"Dm\"\nplay = [\"pulse\", \"other\"]\nfill = \"roll\"\n").Sections[0];

        Assert.Equal(4, section.Orders!.Fill);
    }

    [Fact]
    public void Read_FillOrTaskOfAPartThatDoesNotPlay_IsRemarkedOn()
    {
        var read = ChartDocument.FromText(ChartTexts.Top + Band + "[[section]]\nchords = \"Dm\"\nplay = \"pulse\"\nfill = \"bass\"\n", "song.toml").Read();

        Assert.Contains("does not play in the section", Assert.Single(read.Remarks).ToString(), StringComparison.Ordinal);
    }

    private static Section Section(string lines) => ChartTexts.Chart(ChartTexts.Top + Band + "[[section]]\nchords = \"Dm\"\n" + lines + "\n").Sections[0];
}
