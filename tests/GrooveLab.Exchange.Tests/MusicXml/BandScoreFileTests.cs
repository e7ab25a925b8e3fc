using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>The score of every preset's band, and of bands in odd meters, checked from outside.</summary>
public sealed class BandScoreFileTests
{
    // Source: the MusicXML 4.0 schema.
    [Fact]
    public void Write_EveryBand_FollowsTheSchema() => Check(scored => MusicXmlSchema.Problems(scored.Document));

    [Fact]
    public void Write_EveryBand_FillsEveryBar() => Check(scored => BarSums.Problems(scored.Document));

    [Fact]
    public void Write_EveryBand_HasEachNoteWhereItIsPlayed() => Check(scored =>
        BandScores.Difference(BandScores.NotesOfBars(scored), BandScores.NotesOfFile(scored)) is { Length: > 0 } difference ? [difference] : []);

    [Fact]
    public void Write_EveryBand_IsReadAsTheSameMusic() => Check(scored =>
        PlainMusic.Difference(scored.Music, MusicXmlFile.Music(scored.Bytes)) is { } difference ? [difference] : []);

    // Source: npm verovio 6.3.0. Quarters from the start of the score; a pickup moves all.
    [Fact]
    public async Task Engrave_EveryBand_HasNoRemarksAndTheSameOnsets()
    {
        var all = BandScores.All.ToList();
        var problems = new List<string>();

        // Two processes, for two cores.
        var halves = await Task.WhenAll(all.Chunk((all.Count + 1) / 2).Select(half => Verovio.Engrave(half.Select(scored => scored.Bytes))));
        foreach (var (scored, engraved) in all.Zip(halves.SelectMany(half => half)))
        {
            problems.AddRange(engraved.Remarks.Select(remark => $"{scored.Name}: {remark}"));
            var pickup = BandScores.PickupOf(scored);
            var expected = BandScores.NotesOfBars(scored).Select(note => ((note.Place + pickup) * 4, note.Key - BandScores.Transposition(scored, note.Part))).ToList();
            var difference = BandScores.Difference(expected, WithoutGraces(scored, [.. expected], engraved.Notes));
            Assert.Equal(scored.Music.Measures.Count, engraved.Bars.Count);
            problems.AddRange(difference.Length > 0 ? [$"{scored.Name}: {difference}"] : []);
            Assert.True(engraved.Pages > 0);
        }

        Assert.True(problems.Count == 0, string.Join('\n', problems.Take(12)));
    }

    [Fact]
    public void Import_EveryBand_HasTheSameBars() => Check(scored =>
    {
        var imported = ScoreImport.Make(scored.Bytes, ScoreFormat.MusicXml, new ScoreOptions { Name = "score.musicxml" });
        if (imported.Text is not { } text)
        {
            return [imported.Refusal ?? string.Join('\n', imported.Reading.Errors)];
        }

        var band = new BarComposer(ChartReader.ReadText(text, "score.toml").Chart!, new ComposerOptions { CountIn = false });
        var bars = Enumerable.Range(0, band.Plan.Bars).Select(band.BarAt);
        var expected = Told(Enumerable.Range(0, scored.Band.Plan.Bars).Select(scored.Band.BarAt), withOctaves: true);
        var actual = Told(bars, withOctaves: false);
        return expected.Zip(actual).Where(pair => pair.First != pair.Second).Take(2).Select(pair => $"{pair.First}\n     is {pair.Second}")
            .Concat(expected.Count == actual.Count ? [] : [$"{expected.Count} bars are {actual.Count}"]);
    });

    // Sums that are wrong must be found.
    [Fact]
    public void Problems_WrongSums_AreFound()
    {
        Assert.Empty(BarSums.Problems(MusicXmlTexts.Score(2, "<attributes><time><beats>1+2</beats><beat-type>8</beat-type></time></attributes>"
            + MusicXmlTexts.Note("C4", 1, "eighth") + MusicXmlTexts.Note("C4", 2, "quarter"))));
        Assert.Single(BarSums.Problems(MusicXmlTexts.Score(2, "<attributes><time><beats>1+2</beats><beat-type>8</beat-type></time></attributes>"
            + MusicXmlTexts.Note("C4", 1, "eighth") + MusicXmlTexts.Note("C4", 1, "eighth"))));
        Assert.Single(BarSums.Problems(MusicXmlTexts.Score(2, "<attributes><time><beats>1+2</beats><beat-type>8</beat-type></time></attributes>"
            + MusicXmlTexts.Note("C4", 1, "eighth") + MusicXmlTexts.Note("C4", 2, "eighth"))));
    }

    // The toolkit plays grace notes on the beat, and the note after them a little later: as many notes as have grace notes.
    private static List<(Rational Quarter, int Key)> WithoutGraces(Scored scored, HashSet<(Rational, int)> expected, IReadOnlyList<(Rational Quarter, int Key)> notes)
    {
        var latest = new Rational(1, 8);
        var left = scored.Document.Descendants("grace").Count();
        var places = expected.ToLookup(note => note.Item2, note => note.Item1);
        return
        [
            .. notes.Select(note =>
            {
                var place = expected.Contains(note) || left == 0 ? note.Quarter
                    : places[note.Key].Where(at => at < note.Quarter && note.Quarter - at <= latest).DefaultIfEmpty(note.Quarter).Max();
                left -= place == note.Quarter ? 0 : 1;
                return (place, note.Key);
            }),
        ];
    }

    // A score shows a chord where it changes. The end of a note that a pickup cuts off is not in it. Sections of one name are numbered.
    private static List<string> Told(IEnumerable<Bar> bars, bool withOctaves)
    {
        var told = new List<string>();
        var notes = new List<(int Bar, Span Start, Span Length, string Text)>();
        var start = Span.Zero;
        foreach (var bar in bars)
        {
            var chords = bar.Chords.Where((chord, i) => i == 0 || !chord.Symbol.Equals(bar.Chords[i - 1].Symbol)).Select(chord => $"{chord.Onset} {chord.Symbol}");
            told.Add($"bar {bar.Index + 1} {bar.Section.TrimEnd([.. " 0123456789"])} {bar.Meter} {bar.Tempi[0].Tempo.WholesPerMinute * 4} | {string.Join(", ", chords)} |");
            foreach (var note in bar.Notes.Where(note => note.Written is { Tune.Line: 0, Ornament: null, Join: not NoteJoin.HeldOn }))
            {
                var pitch = SpelledPitch.Of(note.Written.Pitch!.Value);
                var octave = pitch.Octave - (withOctaves ? 0 : note.Written.Tune!.Octaves);
                notes.Add((told.Count - 1, start + note.Written.Onset, note.Written.Length, $"{pitch.Letter}{pitch.Alter}/{octave} {note.Syllable}"));
            }

            start += bar.Length;
        }

        foreach (var (i, (bar, at, length, text)) in notes.Index())
        {
            var end = i + 1 < notes.Count ? Span.Min(at + length, notes[i + 1].Start) : Span.Min(at + length, start);
            told[bar] += $" {at}-{end} {text},";
        }

        return told;
    }

    private static void Check(Func<Scored, IEnumerable<string>> problems)
    {
        var found = BandScores.All.SelectMany(scored => problems(scored).Take(3).Select(problem => $"{scored.Name}: {problem}")).ToList();
        Assert.True(found.Count == 0, $"{found.Count}\n{string.Join('\n', found.Take(12))}");
    }
}
