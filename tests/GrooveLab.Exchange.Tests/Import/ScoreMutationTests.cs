using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>Any file is refused with its reasons or becomes a chart that reads without errors. 2,000 of each kind in the suite;
/// <c>GROOVELAB_MUTATIONS=10000</c> makes it as many.</summary>
public sealed class ScoreMutationTests
{
    private static readonly string[] AbcTunes =
    [
        "X:1\nT:Rope Walk\nP:AB2A\nM:2+2+3/8\nL:1/8\nQ:1/8=300\nK:A dor\nP:A\n|: \"Am\"A2 c2 e2d | \"G\"B2 G2 B2d |1 \"Em\"B2 G2 E3 :|2 \"Am\"A2 A2 A3 |]\nP:B\nV:2\nA7|(3ABc d2 z3|!D.C.!Z2|\nV:1\n{ag}a>b [Ac]4&c7|\nw: la la-la _\n",
        "X:1\nT:Gull Street\nM:5/8\nL:1/16\nK:Bb\n|: B2c2 d4 c2 | B>c d<B c6 |1 (5:4:5BcdcB A2 :|2 !fermata!B10 |]\nw: Gulls on the ga-ble and no- bo-dy_\n",
    ];

    private static readonly string[] SongTexts =
    [
        "[Verse 1]\nC      G      Am   F\nOver the harbor the lanterns are low\n\n[Refrain] x2\nF G C\nHey ho\nF  G   C\n\n[Verse 2]\nUnder the quay where the eels come and go\n\n[Refrain]\n",
        "Net Menders\n\nKey: D dorian\nMeter: 5/8 3+2\nTempo: eighth = 250\n\nVerse 1\nDm                C\nMend me the net by the light of the moon,\n\nRefrain\n        Dm       C\nSo haul, haul the line,\n",
    ];

    public static TheoryData<string> Kinds => ["musicxml", "mxl", "midi", "abc", "words"];

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Make_MutatedScores_AreRefusedWithAReasonOrReadAsCharts(string kind)
    {
        var mutations = new ScoreMutations(kind, Originals(kind));
        var count = int.Parse(Environment.GetEnvironmentVariable("GROOVELAB_MUTATIONS") ?? "2000", CultureInfo.InvariantCulture);
        var (refused, made) = (0, 0);
        for (var seed = 0; seed < count; seed++)
        {
            var bytes = mutations.Of(seed);
            var imported = ScoreImport.Make(bytes, mutations.Format, new ScoreOptions { Name = "mutated." + kind });
            Assert.All(imported.Reading.Errors, error => Assert.NotEmpty(error.What));
            Assert.All(imported.Reading.Errors, error => Assert.Equal("mutated." + kind, error.Place.File));
            if (imported.Text is null)
            {
                refused++;
                Assert.True(imported.Refusal is not null || imported.Reading.Errors.Count > 0);
                continue;
            }

            made++;
            Assert.True(ChartReader.ReadText(imported.Text, "chart.toml") is { IsChart: true }, $"seed {seed}: {string.Join('\n', ChartReader.ReadText(imported.Text, "chart.toml").Problems)}");
        }

        // Both kinds must occur, or the mutations test only half of the cases.
        Assert.True(refused > count / 20 && made > count / 20, $"{refused} refused, {made} charts");
    }

    internal static List<byte[]> Originals(string kind) => kind switch
    {
        "midi" => [FourWays.Midi, .. Midi.Exports.Presets.Take(3).Select(name => Exchange.Midi.MidiFileWriter.ToBytes(Midi.Exports.Of(name).Exact.File))],
        "abc" => [FourWays.Abc, .. AbcTunes.Select(Encoding.UTF8.GetBytes)],
        "words" => [FourWays.Words, .. SongTexts.Select(Encoding.UTF8.GetBytes)],
        "mxl" => Originals("musicxml").ConvertAll(ScoreMutations.Archive),
        _ => [FourWays.MusicXml, .. MusicXml.MusicXmlFeatureTests.Songs.Select(Encoding.UTF8.GetBytes)],
    };
}
