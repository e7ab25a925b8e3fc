using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

public sealed class MusicXmlRoundTripTests
{
    private static readonly string[] Collections = ["musicxml-testsuite", "openscore-lieder", "openscore-common-time"];

    // Checked against the files themselves by a third program that only walks XML (MusicXmlFacts).
    [Fact]
    public void Write_EveryScoreOfTheCollections_SaysWhatItSaid()
    {
        var files = 0;
        foreach (var file in Collections.Select(References.RequireData).SelectMany(Directory.EnumerateFiles).Where(IsScore).Order(StringComparer.Ordinal))
        {
            files++;
            AssertSame(MusicXmlFile.Open(file), Path.GetFileName(file));
        }

        Assert.True(files >= 15, $"only {files} scores");
    }

    // Read, written and read again, plain and compressed: nothing of the model is lost or added.
    [Fact]
    public void Write_EveryScoreOfTheCollections_IsReadAsTheSameMusic()
    {
        foreach (var file in Collections.Select(References.RequireData).SelectMany(Directory.EnumerateFiles).Where(IsScore).Order(StringComparer.Ordinal))
        {
            var music = MusicXmlFile.Music(file);
            using var packed = new MemoryStream();
            MusicXmlScoreWriter.WriteArchive(music, packed);
            Assert.True(PlainMusic.Difference(music, MusicXmlFile.Music(packed.ToArray(), file)) is null, $"{file}: {PlainMusic.Difference(music, MusicXmlFile.Music(packed.ToArray(), file))}");
        }
    }

    // In every score a tied note is as long as all its heads together.
    [Fact]
    public void OfPart_EveryScoreOfTheCollections_HoldsEveryNoteOnce()
    {
        foreach (var file in Collections.Select(References.RequireData).SelectMany(Directory.EnumerateFiles).Where(IsScore))
        {
            var music = MusicXmlFile.Music(file);
            for (var part = 0; part < music.Parts.Count; part++)
            {
                var notes = SoundingNotes.OfPart(music, part);
                var heads = music.Parts[part].Measures.SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events).OfType<NotesEvent>()
                    .Where(notes => notes.Grace is null && !notes.IsCue)
                    .SelectMany(notes => notes.Notes.Where(head => head.Passes.Count == 0 || head.Passes.Contains(1)).Select(_ => notes.Length))
                    .ToList();
                Assert.Equal(heads.Count, notes.Sum(note => note.Sources.Count));
                Assert.Equal(heads.Aggregate(Span.Zero, (sum, length) => sum + length), notes.Aggregate(Span.Zero, (sum, note) => sum + note.Length));
            }
        }
    }

    // Checked by hand: the only signs are an ending for the first and second time and one for the third, and a repeat of three times.
    [Fact]
    public void Order_SongOfThreeVerses_IsAsItIsSung()
    {
        var file = Path.Combine(References.RequireData("openscore-common-time"), "lc6586980.musicxml");
        References.Require(File.Exists(file), $"The score '{file}' is not here.");
        var order = Unfolding.Order(MusicXmlFile.Music(file).Measures);
        int[] expected = [.. Enumerable.Range(1, 16), .. Enumerable.Range(5, 12), .. Enumerable.Range(5, 9), 17];
        Assert.Equal(expected, order.Select(played => played.Measure + 1));
        Assert.Equal([1, 2, 3], order.Where(played => played.Measure == 4).Select(played => played.Verse));
    }

    [Fact]
    public void Write_ScoresOfOurOwn_SayWhatTheySaid()
    {
        foreach (var (name, score) in MusicXmlTexts.All)
        {
            AssertSame(score, name);
        }
    }

    // Source: the MusicXML 4.0 schema.
    [Fact]
    public void Write_ScoresOfOurOwn_FollowTheSchemaBeforeAndAfter()
    {
        foreach (var (name, score) in MusicXmlTexts.All)
        {
            Assert.Equal([], MusicXmlSchema.Problems(score));
            Assert.Equal([], MusicXmlSchema.Problems(MusicXmlFile.Written(MusicXmlFile.Music(score, name))));
        }
    }

    // Source: the MusicXML 4.0 schema. Everything in it is read and written here, or listed as excluded.
    [Fact]
    public void Facts_EveryElementOfTheSchema_IsInAScoreOfOursOrNamedAsOutside()
    {
        var ours = MusicXmlTexts.All.SelectMany(one => one.Score.Descendants()).Select(element => element.Name.LocalName).ToHashSet(StringComparer.Ordinal);
        var missing = MusicXmlSchema.ElementNames()
            .Where(name => !ours.Contains(name) && !MusicXmlFacts.OutsideElements.Contains(name) && !MusicXmlSchema.InsideOutside.Contains(name));
        Assert.Equal("", string.Join(' ', missing.Order(StringComparer.Ordinal)));
    }

    internal static void AssertSame(XDocument score, string name)
    {
        var before = MusicXmlFacts.Of(score);
        var after = MusicXmlFacts.Of(MusicXmlFile.Written(MusicXmlFile.Music(score, name)));
        var lost = Without(before, after);
        var added = Without(after, before);
        Assert.True(
            lost.Count == 0 && added.Count == 0,
            $"{name}: {before.Count} facts\nlost:\n{string.Join('\n', lost.Take(10))}\nadded:\n{string.Join('\n', added.Take(10))}");
    }

    private static bool IsScore(string file) => Path.GetExtension(file) is ".xml" or ".musicxml" or ".mxl";

    private static List<string> Without(IReadOnlyList<string> all, IReadOnlyList<string> taken)
    {
        var left = taken.GroupBy(fact => fact, StringComparer.Ordinal).ToDictionary(group => group.Key, group => group.Count(), StringComparer.Ordinal);
        var rest = new List<string>();
        foreach (var fact in all)
        {
            if (left.TryGetValue(fact, out var count) && count > 0)
            {
                left[fact] = count - 1;
            }
            else
            {
                rest.Add(fact);
            }
        }

        return rest;
    }
}
