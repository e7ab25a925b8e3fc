using CsCheck;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Properties of every difference of two charts.</summary>
public sealed class ChartDifferencePropertyTests
{
    private static readonly Gen<(Chart Was, Chart Now, string Text)> Pairs =
        Gen.Select(RandomCharts.All, RandomCharts.All, Gen.Int, (a, b, seed) =>
        {
            // What is said about another meter is only ever left out.
            var now = ChartReader.ReadText(ChartWriter.Write(b with { Recast = null }), "b").Chart!;
            var text = Remarked(ChartWriter.Write(a), new Random(seed));
            return (ChartReader.ReadText(text, "a").Chart!, now, text);
        });

    [Fact]
    public void Write_AnyTwoCharts_ReadsAsTheOtherAndKeepsEveryRemark() =>
        Pairs.Sample(
            pair =>
            {
                var written = ChartDifference.Write(ChartDocument.FromText(pair.Text, "song.toml"), pair.Was, pair.Now);
                var read = written.Document.Read();
                Assert.True(read.IsChart, string.Join('\n', read.Problems) + "\n" + written.Document.Text);
                Assert.False(written.IsReformatted, string.Join('\n', written.Reasons) + "\n" + pair.Text + "\n=====\n" + ChartWriter.Write(pair.Now));
                AssertSame(pair.Now, read.Chart);
                Assert.Equal(RemarksOf(pair.Text).Order(StringComparer.Ordinal), RemarksOf(written.Document.Text).Order(StringComparer.Ordinal));

                var again = ChartDifference.Write(written.Document, read.Chart, pair.Now);
                Assert.Same(written.Document, again.Document);
            },
            iter: 500);

    [Fact]
    public void Write_AFewChangesOfAChartLaidOutByHand_ReadsAsMeantAndKeepsEveryRemark() =>
        Gen.Int.Sample(
            seed =>
            {
                var random = new Random(seed);
                var text = Laid[random.Next(Laid.Count)];
                var document = ChartDocument.FromText(text, "song.toml");
                var was = document.Read().Chart!;
                var now = new RandomEdits(random).Changed(was, 1 + random.Next(6));
                var meant = ChartReader.ReadText(ChartWriter.Write(now), "now");
                Assert.True(meant.IsChart, string.Join('\n', meant.Problems));
                var written = ChartDifference.Write(document, was, now);
                var read = written.Document.Read();
                Assert.True(read.IsChart, string.Join('\n', read.Problems) + "\n" + written.Document.Text);
                Assert.False(written.IsReformatted, string.Join('\n', written.Reasons) + "\n" + text + "\n=====\n" + ChartWriter.Write(now));
                AssertSame(meant.Chart, read.Chart);
                Assert.Equal(RemarksOf(text).Order(StringComparer.Ordinal), RemarksOf(written.Document.Text).Order(StringComparer.Ordinal));
                Assert.Same(written.Document, ChartDifference.Write(written.Document, read.Chart, now).Document);
            },
            iter: 1000);

    private static IReadOnlyList<string> Laid { get; } =
    [
        .. HandWrittenCharts.Names.Select(HandWrittenCharts.Text),
        .. Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Order(StringComparer.Ordinal).Select(File.ReadAllText),
    ];

    private static void AssertSame(Chart meant, Chart read)
    {
        Assert.True(Close(meant.Tempo, read.Tempo));
        Assert.Equal(
            Letters(ChartDescription.Of(SameTempi(meant, read))),
            Letters(ChartDescription.Of(read)));
    }

    // Signs for sharps and flats mean the same as their letters.
    private static string Letters(string description) => description.Replace('♭', 'b').Replace('♯', '#');

    // Tempi may be off by 0.05 %.
    private static Chart SameTempi(Chart meant, Chart read) => meant with
    {
        Tempo = Near(meant.Tempo, read.Tempo)!.Value,
        LearnerTempo = Near(meant.LearnerTempo, read.LearnerTempo),
        Sections =
        [
            .. meant.Sections.Zip(read.Sections, (one, other) => one with
            {
                Tempo = one.Tempo is not { } tempo ? null : tempo with
                {
                    From = Near(tempo.From, other.Tempo?.From),
                    To = Near(tempo.To, other.Tempo?.To),
                    After = Near(tempo.After, other.Tempo?.After),
                },
                Ramps = [.. one.Ramps.Select((ramp, i) => i >= other.Ramps.Count ? ramp : ramp with
                {
                    To = Near(ramp.To, other.Ramps[i].To)!.Value,
                    After = Near(ramp.After, other.Ramps[i].After),
                })],
            }),
        ],
    };

    private static TempoAfter? Near(TempoAfter? meant, TempoAfter? read) =>
        meant is { } a && read is { } b ? new TempoAfter(Near(a.Mark, b.Mark)) : meant;

    private static TempoMark? Near(TempoMark? meant, TempoMark? read) => meant is { } a && read is { } b && Close(a, b) ? b : meant;

    private static bool Close(TempoMark a, TempoMark b) =>
        (a.Level, a.Note) == (b.Level, b.Note) && (a.PerMinute - b.PerMinute).Abs() * 2000 <= a.PerMinute;

    private static IEnumerable<string> RemarksOf(string text) => Remarks.In(text).Select(remark => text[remark.Start..remark.End]);

    // Remarks after lines and on separate lines, wherever allowed.
    private static string Remarked(string text, Random random)
    {
        var lines = new List<string>();
        var inText = false;
        var number = 0;
        foreach (var line in text.TrimEnd('\n').Split('\n'))
        {
            var quotes = line.Split("\"\"\"").Length - 1;
            if (!inText && random.Next(6) == 0)
            {
                lines.Add($"# remark {number++}");
            }

            inText ^= quotes % 2 == 1;
            lines.Add(!inText && random.Next(3) == 0 ? $"{line}   # \"remark\" {number++}" : line);
        }

        return string.Join('\n', lines) + "\n";
    }
}
