using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Abc;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>Chords for a tune that stands alone.</summary>
public sealed class TuneHarmonyTests(ITestOutputHelper output)
{
    // Measured; it may only rise. The same measure for twelve dance tunes of a public collection is in docs/import.md.
    private const double LeastShare = 0.78;

    [Fact]
    public void AddTo_TunesOfPresetsAlone_FindsMostTriads()
    {
        var (right, all) = (0, 0);
        foreach (var name in PresetCharts.Names)
        {
            var chart = ChartReader.ReadText(PresetCharts.Text(name)!, name).Chart!;
            if (!chart.Sections.All(section => section.Tune is not null))
            {
                continue;
            }

            var music = FlatChart.Of(chart);
            var found = ChordInference.AddTo(Bare(new WrittenMusic([.. music.Measures], [music.Parts[0]])));
            var (known, inferred) = (AtStarts(music), AtStarts(found));
            var pairs = known.Zip(inferred).Where(pair => pair.First is { IsNoChord: false } && pair.Second is not null).ToList();
            var same = pairs.Count(pair => pair.First!.Root.PitchClass == pair.Second!.Root.PitchClass && IsMinor(pair.First) == IsMinor(pair.Second));
            output.WriteLine($"{name}: {same} of {pairs.Count}: {string.Join(' ', pairs.Take(24).Select(pair => $"{pair.First}:{pair.Second}"))}");
            (right, all) = (right + same, all + pairs.Count);
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{right} of {all} ({(double)right / all:P1})"));
        Assert.InRange((double)right / all, LeastShare, 1);
    }

    // Common practice, no source: tonic at the start and the end, dominant before it, no suspended or altered chords that nothing asks for.
    [Theory]
    [InlineData("D", "A|d2 fe|d2 AF|G2 Bd|c2 A2|d2 fe|d2 AF|GB Ac|d3", "D", "A7 A")]
    [InlineData("Em", "B|e2 ge|f2 ^df|e2 BG|A2 FA|e2 ge|f2 ^df|eB GF|E3", "Em", "B7 B")]
    [InlineData("DDor", "A|d2 fd|c2 eg|a2 fd|c2 AG|d2 fd|c2 eg|fd ec|d3", "Dm", "C Am A")]
    public void AddTo_TuneAlone_HasThePlainChordsOfItsKey(string key, string notes, string tonic, string before)
    {
        var read = AbcScoreReader.Read(Encoding.UTF8.GetBytes($"X:1\nT:Alone\nM:4/4\nL:1/4\nK:{key}\n{notes}|]\n"), new ScoreOptions { Name = "alone.abc" });

        var chords = ChordInference.AddTo(read.Music!).Measures.SelectMany(measure => measure.Chords).Select(mark => mark.Chords[0].Symbol!.ToString()!).ToList();

        output.WriteLine(string.Join(' ', chords));
        Assert.All(chords, chord => Assert.Matches("^[A-G][#b]?(m|7)?$", chord));
        Assert.Equal((tonic, tonic), (chords[0], chords[^1]));
        Assert.Contains(chords[^2], before.Split(' '));
    }

    // With a second line the bass and the other notes say more than custom does.
    [Fact]
    public void AddTo_TuneWithABass_FollowsTheBass()
    {
        var read = AbcScoreReader.Read("X:1\nT:Two\nM:4/4\nL:1/1\nK:C\nV:1\ne|e|d|c|\nV:2\nA,,|E,,|G,,|C,|\n"u8.ToArray(), new ScoreOptions { Name = "two.abc" });

        var chords = ChordInference.AddTo(read.Music!).Measures.SelectMany(measure => measure.Chords).Select(mark => mark.Chords[0].Symbol!.Root.PitchClass).ToList();

        Assert.Equal(9, chords[0]);
    }

    private static WrittenMusic Bare(WrittenMusic music) =>
        new([.. music.Measures.Select(measure => measure with { Marks = [.. measure.Marks.Where(mark => mark is not ChordMark)] })], music.Parts);

    private static List<ChordSymbol?> AtStarts(WrittenMusic music)
    {
        var result = new List<ChordSymbol?>();
        ChordSymbol? last = null;
        foreach (var measure in music.Measures)
        {
            result.Add(measure.Chords.FirstOrDefault(mark => mark.At == GrooveLab.Music.Time.Span.Zero)?.Chords[0].Symbol ?? last);
            last = measure.Chords.LastOrDefault()?.Chords[0].Symbol ?? last;
        }

        return result;
    }

    private static bool IsMinor(ChordSymbol chord) => chord.Tones.Any(tone => (tone.Name.PitchClass - chord.Root.PitchClass + 12) % 12 == 3);
}
