using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using Xunit;

namespace GrooveLab.Exchange.Tests.Instruments;

public sealed class InstrumentCatalogueTests
{
    private static readonly InstrumentCatalogue Catalogue = InstrumentFile.BuiltIn;

    // Open strings and courses: common practice, no source.
    [Theory]
    [InlineData("bouzouki", new[] { 43, 50, 57, 62 }, 86)]
    [InlineData("guitar", new[] { 40, 45, 50, 55, 59, 64 }, 86)]
    [InlineData("fiddle", new[] { 55, 62, 69, 76 }, 83)]
    [InlineData("viola", new[] { 48, 55, 62, 69 }, 84)]
    [InlineData("cello", new[] { 36, 43, 50, 57 }, 69)]
    [InlineData("plucked bass", new[] { 28, 33, 38, 43 }, 55)]
    [InlineData("banjo", new[] { 67, 55, 59, 62 }, 86)]
    public void BuiltIn_StringedInstrument_HasItsTuning(string name, int[] strings, int highest)
    {
        var instrument = Catalogue.ByName(name);

        Assert.Equal(strings, instrument.Strings);
        Assert.Equal(strings.Min(), instrument.Lowest);
        Assert.Equal(highest, instrument.Highest);
    }

    // Programs as in General MIDI level 1, from 0 (MMA RP-003).
    [Theory]
    [InlineData("hammered dulcimer", 15)]
    [InlineData("concertina", 21)]
    [InlineData("bouzouki", 25)]
    [InlineData("plucked bass", 32)]
    [InlineData("bass guitar", 33)]
    [InlineData("fiddle", 40)]
    [InlineData("viola", 41)]
    [InlineData("cello", 42)]
    [InlineData("whistle", 73)]
    [InlineData("banjo", 105)]
    public void BuiltIn_Instrument_HasItsProgram(string name, int program) => Assert.Equal(program, Catalogue.ByName(name).Program);

    // Clefs and written pitches: common practice, no source.
    [Theory]
    [InlineData("bouzouki", "treble 8vb", "C4")]
    [InlineData("concertina", "treble", "C4")]
    [InlineData("plucked bass", "bass", "C3")]
    [InlineData("viola", "alto", "C4")]
    [InlineData("cello", "bass", "C4")]
    [InlineData("whistle", "treble", "C5")]
    [InlineData("clicks", "percussion", "C4")]
    public void BuiltIn_Instrument_HasItsClefAndWrittenPitch(string name, string clef, string writtenC)
    {
        var instrument = Catalogue.ByName(name);

        Assert.Equal((clef, writtenC), (Assert.Single(instrument.Staves).ToString(), instrument.WrittenC.ToString()));
    }

    private const string Own = """
        [[instrument]]
        name = "lantern organ"
        technique = "reed"
        range = "C2-C6"
        program = 20

        """;

    [Fact]
    public void Read_ClefsAndWrittenPitch_AreTheInstruments()
    {
        var organ = InstrumentFile.Read(Own + "clefs = [\"treble\", \"bass\"]\nwritten-c-sounds = \"Bb3\"\n", "instruments.toml").ByName("lantern organ");

        Assert.Equal([StaffClef.Treble, StaffClef.Bass], organ.Staves);
        Assert.Equal("Bb3", organ.WrittenC.ToString());
    }

    // C2 to C6: the middle is C4, the lowest that the treble clef takes.
    [Fact]
    public void Read_NoClefs_SuitTheRange() =>
        Assert.Equal([StaffClef.Treble], InstrumentFile.Read(Own, "instruments.toml").ByName("lantern organ").Staves);

    [Theory]
    [InlineData("clefs = [\"french\"]", "'french' is not a clef")]
    [InlineData("clefs = [1]", "a clef must be a text in quotes")]
    [InlineData("clefs = [\"bass\", \"bass\", \"bass\"]", "one or two staves")]
    [InlineData("written-c-sounds = \"H\"", "'H' is not a pitch within two octaves of C4")]
    [InlineData("written-c-sounds = \"C8\"", "'C8' is not a pitch within two octaves of C4")]
    public void Read_WrongClefOrPitch_IsAProblemWithItsPlace(string line, string message)
    {
        var problem = Assert.Throws<FormatException>(() => InstrumentFile.Read(Own + line + "\n", "instruments.toml"));

        Assert.Contains(message, problem.Message, StringComparison.Ordinal);
        Assert.Contains("instruments.toml:6", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Default_EveryRole_HasAnInstrumentThatCanPlayIt()
    {
        foreach (var role in Enum.GetValues<Role>())
        {
            var instrument = Catalogue.Default(role);
            Assert.Equal(role == Role.Count, instrument.Unpitched);
            Assert.Equal(role is Role.Sustain or Role.Tune, instrument.Holds);
        }
    }

    [Fact]
    public void Register_EveryInstrumentAndRole_LiesInItsRangeAndIsAnOctaveAtLeast()
    {
        foreach (var instrument in Catalogue.All)
        {
            foreach (var role in Enum.GetValues<Role>())
            {
                var (lowest, highest) = Catalogue.Register(instrument, role);
                Assert.InRange(lowest, instrument.Lowest, highest - 12);
                Assert.InRange(highest, lowest + 12, instrument.Highest);
            }
        }
    }

    [Fact]
    public void TryFind_CapitalsAndHyphens_MakeNoDifference()
    {
        Assert.True(Catalogue.TryFind("Hammered-Dulcimer", out var instrument));
        Assert.Equal("hammered dulcimer", instrument.Name);
        Assert.True(Catalogue.TryFind("Double Bass", out instrument));
        Assert.Equal("plucked bass", instrument.Name);
        Assert.False(Catalogue.TryFind("kazoo", out _));
    }

    [Fact]
    public void BuiltIn_NoTwoInstruments_GoByOneName()
    {
        var text = Resource.Text("instruments.toml");
        var names = text.Split('\n').Where(line => line.StartsWith("name =", StringComparison.Ordinal) || line.StartsWith("also =", StringComparison.Ordinal))
            .SelectMany(line => line.Split('"').Where((_, index) => index % 2 == 1)).ToList();

        Assert.Equal(names.Count, names.Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    public void With_AnotherCatalogue_AddsAndReplaces()
    {
        var mine = InstrumentFile.Read("[[instrument]]\nname = \"fiddle\"\ntechnique = \"bow\"\nrange = \"A3-A5\"\nprogram = 110\n", "mine.toml");
        var both = Catalogue.With(mine);

        Assert.Equal(Catalogue.All.Count, both.All.Count);
        Assert.Equal(110, both.ByName("fiddle").Program);
        Assert.Equal(42, both.ByName("cello").Program);
    }

    [Fact]
    public void Read_BrokenCatalogue_NamesEveryProblem()
    {
        var problem = Assert.Throws<FormatException>(() => InstrumentFile.Read("[[instrument]]\nname = \"x\"\ntechnique = \"kick\"\nrange = \"C4\"\nprogram = 200\n", "mine.toml"));

        Assert.Equal(["mine.toml:3", "mine.toml:4", "mine.toml:5"], problem.Message.Split('\n').Select(line => string.Join(':', line.Split(':')[..2])));
        Assert.Contains(
            "mine.toml:1:1: this instrument has no technique and range",
            Assert.Throws<FormatException>(() => InstrumentFile.Read("[[instrument]]\nname = \"x\"\nprogram = 20\n", "mine.toml")).Message,
            StringComparison.Ordinal);
    }
}
