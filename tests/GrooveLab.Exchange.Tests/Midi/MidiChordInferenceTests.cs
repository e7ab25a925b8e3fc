using System.Globalization;
using GrooveLab.Exchange.Abc;
using GrooveLab.Exchange.Midi;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Chords inferred from the exported presets, whose chords are known.</summary>
public sealed class MidiChordInferenceTests
{
    [Fact]
    public void AddTo_BassThatTheKeySpellsOtherwise_IsSpelledAsInTheChord()
    {
        var read = AbcScoreReader.Read("X:1\nM:4/4\nL:1/1\nK:Db\n[A,,=A,D=E]|[A,,=A,D=E]|\n"u8.ToArray(), new ScoreOptions { Name = "bass.abc" });
        var chord = ChordInference.AddTo(read.Music!).Measures[0].Chords.First().Chords[0].Symbol!;
        Assert.Equal("Amaj7/G#", chord.ToString());
    }

    // Measured; they may only rise. The band plays suspensions, passing notes and lines of the bass, beside which sevenths and sixths are hard to tell.
    private const double LeastShare = 0.86;
    private const double LeastTriads = 0.95;

    [Fact]
    public void AddTo_PresetsReadBackWithoutChords_FindsRootAndQuality()
    {
        var (right, triads, all) = (0, 0, 0);
        var lines = new List<string>();
        foreach (var preset in Exports.Presets)
        {
            var export = Exports.OfText(preset, File.ReadAllText(Path.Combine(ChartTexts.Folder("presets"), preset + ".toml")), countIn: false);
            var written = MidiScoreReaderTests.Read(MidiFileWriter.ToBytes(export.Exact.File));
            var bare = new WrittenMusic([.. written.Measures.Select(measure => measure with { Marks = [.. measure.Marks.Where(mark => mark is not ChordMark)] })], written.Parts);
            var inferred = ChordInference.AddTo(bare);
            ChordSymbol? known = null;
            ChordSymbol? found = null;
            var (ok, count) = (0, 0);
            var wrong = new List<string>();
            for (var bar = 0; bar < Math.Min(export.Bars.Count, inferred.Measures.Count); bar++)
            {
                known = export.Bars[bar].Chords.Count > 0 ? export.Bars[bar].Chords[0].Symbol : known;
                var atStart = inferred.Measures[bar].Chords.FirstOrDefault(mark => mark.At == GrooveLab.Music.Time.Span.Zero);
                found = atStart?.Chords[0].Symbol ?? found;
                if (known is { IsNoChord: false } && found is not null)
                {
                    count++;
                    var isTriad = known.Root.PitchClass == found.Root.PitchClass && Triad(known) == Triad(found);
                    var isRight = isTriad && Mask(known) == Mask(found);
                    ok += isRight ? 1 : 0;
                    triads += isTriad ? 1 : 0;
                    wrong.AddRange(isRight ? [] : [$"{known}:{found}"]);
                }

                found = inferred.Measures[bar].Chords.LastOrDefault()?.Chords[0].Symbol ?? found;
            }

            (right, all) = (right + ok, all + count);
            lines.Add(string.Create(CultureInfo.InvariantCulture, $"{preset}: {ok} of {count}; ") + string.Join(' ', wrong.GroupBy(text => text).OrderByDescending(group => group.Count()).Take(8).Select(group => $"{group.Key}x{group.Count()}")));
        }

        lines.Add(string.Create(CultureInfo.InvariantCulture, $"root and all tones: {right} of {all} bars; root and triad: {triads}"));
        TestContext.Current.TestOutputHelper?.WriteLine(string.Join('\n', lines));
        Assert.True(right >= LeastShare * all && triads >= LeastTriads * all, string.Join('\n', lines));
    }

    private static int Mask(ChordSymbol chord) => chord.Tones.Aggregate(0, (mask, tone) => mask | 1 << tone.Name.PitchClass);

    private static (int, int) Triad(ChordSymbol chord) => (
        chord.Tones.FirstOrDefault(tone => tone.Degree == ChordDegree.Third).Alteration,
        chord.Tones.FirstOrDefault(tone => tone.Degree == ChordDegree.Fifth).Alteration);
}
