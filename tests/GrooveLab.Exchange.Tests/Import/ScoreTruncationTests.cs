using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>A small score of each kind, cut at every length.</summary>
public sealed class ScoreTruncationTests
{
    public static TheoryData<string> Kinds => ScoreMutationTests.Kinds;

    [Theory]
    [MemberData(nameof(Kinds))]
    public void Make_CutAtEveryLength_IsRefusedWithAPlaceOrSaysWhatIsMissing(string kind)
    {
        var whole = ScoreMutationTests.Originals(kind)[0];
        var format = new ScoreMutations(kind, [whole]).Format;
        var (refused, made) = (0, 0);

        // Without its last line break a text is whole.
        var end = kind is "musicxml" ? whole.AsSpan().LastIndexOf((byte)'>') : whole.Length - 1;
        for (var length = 0; length <= end; length++)
        {
            var imported = ScoreImport.Make(whole.AsMemory(0, length), format, new ScoreOptions { Name = "cut" });
            var errors = imported.Reading.Errors;
            if (imported.Text is null)
            {
                refused++;
                Assert.True(errors.Count > 0, $"{length}: {imported.Refusal}");
                Assert.All(errors, error => Assert.True(length == 0 || error.Place.Line is not null || error.Place.Path is not null, $"{length}: {error}"));
                continue;
            }

            made++;
            Assert.True(ChartReader.ReadText(imported.Text, "chart.toml").IsChart, $"{length}");

            // The end of a text may be missing without a trace. A MIDI file says how long it should be.
            Assert.True(kind is "abc" or "words" || imported.Reading.Warnings.Count > 0, $"{length}: nothing said");
        }

        // A cut XML file or archive is never read; the other kinds are read as far as they go.
        Assert.True(kind is "musicxml" or "mxl" ? made == 0 : made > 0 && refused > 0, $"{refused} refused, {made} made");
    }
}
