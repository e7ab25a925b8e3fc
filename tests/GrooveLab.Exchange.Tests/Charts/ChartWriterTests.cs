using CsCheck;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Exchange.Tests.Charts.ChartTexts;

namespace GrooveLab.Exchange.Tests.Charts;

public sealed class ChartWriterTests
{
    [Fact]
    public void Write_AnyChart_ReadsBackEqual() =>
        RandomCharts.All.Sample(
            chart =>
            {
                var text = ChartWriter.Write(chart);
                var result = ChartReader.ReadText(text, "written.toml");
                Assert.True(result.IsChart, string.Join('\n', result.Problems) + "\n" + text);
                var plain = Plain(chart);
                Assert.Equal(ChartDescription.Of(plain), ChartDescription.Of(result.Chart));
                Assert.Equal(text, ChartWriter.Write(result.Chart));
            },
            iter: 500);

    [Fact]
    public void Write_DemoChart_ReadsBackEqual()
    {
        var chart = Chart(DemoChart.Text);

        Assert.Equal(ChartDescription.Of(chart), ChartDescription.Of(Chart(ChartWriter.Write(chart))));
    }

    [Fact]
    public void Write_SmallChart_IsAsAPersonWouldWriteIt()
    {
        var written = ChartWriter.Write(Chart(Top + """
            [[part]]
            role = "pulse"
            level = -4
            [[section]]
            name = "verse"
            chords = "| Dm | C G | [2/4] Am | Dm / / / C | % |"
            [section.tune]
            pickup = "A3:1"
            notes = "| D4:3 E4:2 | F4:5~ | F4:1 r:1 | r | {3:2 D4:1/8 E4 F4} G4:1 A4:2 |"
            words = ["The | lan-tern's | light * _"]
            """.Replace("light * _", "light", StringComparison.Ordinal)));

        Assert.Equal(
            """"
            format = 1
            title = "Test"
            key = "D dorian"
            tempo = "eighth = 260"
            meter = "5/8 3+2"
            seed = 1
            form = ["verse"]

            [[part]]
            name = "bouzouki"
            role = "pulse"
            instrument = "bouzouki"
            level = -4

            [[section]]
            name = "verse"
            chords = """
            | Dm | C G | [2/4] Am | Dm / / / C |
            | Dm / / / C |
            """

            [section.tune]
            pickup = "A3:1"
            notes = """
            | D4:3 E4:2 | F4:5~ | F4:1 r:1 | r |
            | {3:2 D4:1 E4 F4} G4 A4:2 |
            """
            words = [
              "The lan-tern's light",
            ]

            """",
            written);
    }

    [Fact]
    public void Write_ChordBetweenTwoUnits_IsRefused()
    {
        var chart = Chart(WithSection("chords = \"Dm\""));
        var bar = chart.Sections[0].Bars[0];
        var odd = bar with
        {
            Chords = [new ChordSpan(Span.Zero, Span.Of(1, 16), ChordSymbol.Parse("C")), new ChordSpan(Span.Of(1, 16), Span.Of(9, 16), ChordSymbol.Parse("G"))],
        };

        var problem = Assert.Throws<ChartProblemException>(() => ChartWriter.Write(chart with { Sections = [chart.Sections[0] with { Bars = [odd] }] }));

        Assert.Contains("between two units", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Write_TuneLongerThanItsSection_IsRefused()
    {
        var chart = Chart(WithTune(1, "notes = \"D4:5\""));
        var tune = Music.Charts.Tune.Of([new TuneNote(Span.Zero, Span.Of(1, 1), Pitch.Parse("D4"), [])], [], chart.Sections[0].Bars);

        Assert.Throws<ChartProblemException>(() => ChartWriter.Write(chart with { Sections = [chart.Sections[0] with { Tune = tune }] }));
    }

    // An inserted bar in the meter that applies there anyway is written as a normal one.
    private static Chart Plain(Chart chart)
    {
        var read = Chart(ChartWriter.Write(chart));
        return chart with
        {
            Sections =
            [
                .. chart.Sections.Zip(read.Sections, (section, other) => section with
                {
                    Bars =
                    [
                        .. section.Bars.Zip(other.Bars, (bar, same) =>
                            bar.Inserted && !same.Inserted && IsUsual(other, same.Meter) ? bar with { Inserted = false } : bar),
                    ],
                }),
            ],
        };
    }

    private static bool IsUsual(Section section, BarMeter meter) => section.Bars.Any(bar => !bar.Inserted && bar.Meter == meter);
}
