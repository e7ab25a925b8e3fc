using CsCheck;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Notation;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Charts' tunes, reconstructed from the played bars alone.</summary>
public sealed class WrittenTuneTests
{
    [Fact]
    public void Read_BarsOfEveryPreset_AreTheChartsTunes()
    {
        var tunes = 0;
        foreach (var file in PresetTests.Files())
        {
            var band = new BarComposer(PresetTests.Read(file));
            var written = WrittenTune.Read(BarsOf(band));
            Assert.Equal(WrittenTune.Asked(band), written);
            tunes += written.Count > 0 ? 1 : 0;
        }

        Assert.True(tunes >= 5, $"only {tunes} presets have a tune");
    }

    [Fact]
    public void Read_BarsOfRandomCharts_AreTheChartsTunes() => Gen.Select(RandomCharts.All, Gen.Int[-1, 1], Gen.Enum<LayBack>(), Gen.Bool).Sample(
        (drawn, octaves, back, consonants) =>
        {
            // Two tune parts, one in another octave, and no other parts, for speed. Both play the melody: further lines are left out.
            var chart = drawn with
            {
                Parts = [Singer("high", new TuneSettings { Octaves = octaves, LaidBack = back, Consonants = consonants }), Singer("plain", new TuneSettings())],
                Sections = [.. drawn.Sections.Select(WithoutLines).Select(section => section with { Playing = section.Playing is { } playing ? [.. playing.Where(part => part < 2)] : null })],
            };
            var band = new BarComposer(chart);
            Assert.Equal(WrittenTune.Asked(band), WrittenTune.Read(BarsOf(band)));
        },
        iter: 500);

    [Theory]
    [InlineData("laid-back = \"unit\"", "A4:1-")]
    public void Read_LaidBackPickupOfTheLastUnit_IsPlayed(string part, string pickup)
    {
        // Later by the unit that is left of the section, it would begin in the next one, which has only its rest.
        var text = "format = 2\ntitle = \"t\"\nkey = \"D major\"\ntempo = \"eighth = 100\"\nmeter = \"5/8 2+2+1\"\nform = [\"a\", \"b\"]\n"
            + "[[part]]\nrole = \"tune\"\ninstrument = \"concertina\"\n" + part + "\n[[section]]\nname = \"a\"\nchords = \"| D | D |\"\n"
            + "[[section]]\nname = \"b\"\nchords = \"| D |\"\n[section.tune]\npickup = \"" + pickup + "\"\nnotes = \"| A4:4 z:1 |\"\n";
        var read = ChartDocument.FromText(text, "t", null, (source, problems) => ChartReader.Parse(source, problems)).Read();
        var band = new BarComposer(read.Chart!);
        Assert.Equal(WrittenTune.Asked(band), WrittenTune.Read(BarsOf(band)));
    }

    private static Section WithoutLines(Section section) => section with
    {
        Tune = Melody(section.Tune),
        Endings = [.. section.Endings.Select(ending => ending with { Tune = Melody(ending.Tune) })],
    };

    private static Tune? Melody(Tune? tune) =>
        tune is null ? null : new Tune(new WrittenMusic(tune.Written.Measures, [tune.Written.Parts[0]]));

    private static Part Singer(string name, TuneSettings settings) =>
        HouseBand.Part(Role.Tune, InstrumentFile.BuiltIn.ByName("concertina")!, InstrumentFile.BuiltIn) with { Name = name, Settings = settings };

    private static List<Music.Bars.Bar> BarsOf(BarComposer band) => [.. Enumerable.Range(band.First, band.End!.Value - band.First).Select(band.BarAt)];
}
