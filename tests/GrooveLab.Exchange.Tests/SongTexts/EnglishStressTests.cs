using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.SongTexts;

/// <summary>The stresses of English syllables as they are sung.</summary>
public sealed class EnglishStressTests(ITestOutputHelper output)
{
    // Verses from memory, all long in the public domain, and one line made for this test ("winter").
    public static TheoryData<string, string> OtherLanguages => new()
    {
        { "German, rose", "Sah ein Knab ein Rös-lein stehn, Rös-lein auf der Hei-den, war so jung und mor-gen-schön, lief er schnell, es nah zu sehn, sah's mit vie-len Freu-den" },
        { "German, night ride", "Wer rei-tet so spät durch Nacht und Wind? Es ist der Va-ter mit sei-nem Kind; er hat den Kna-ben wohl in dem Arm, er faßt ihn si-cher, er hält ihn warm" },
        { "German, linden", "Am Brun-nen vor dem To-re, da steht ein Lin-den-baum, ich träumt in sei-nem Schat-ten so man-chen sü-ßen Traum" },
        { "German, evening", "Gu-ten A-bend, gu-te Nacht, mit Ro-sen be-dacht, mit Nel-ken be-steckt, schlupf un-ter die Deck" },
        { "German, winter", "In ei-nem kal-ten Win-ter stand der al-te Mann am Haus und sang ein Lied von Wind und Land" },
        { "French, bird", "Le vert co-li-bri, le roi des col-li-nes, voy-ant la ro-sée et le so-leil clair lui-re dans son nid tis-sé d’her-bes fi-nes" },
        { "French, moon", "Au clair de la lu-ne, mon a-mi Pier-rot, prê-te-moi ta plu-me pour é-crire un mot, ma chan-delle est mor-te, je n'ai plus de feu" },
        { "French, brother", "Frè-re Jac-ques, dor-mez vous? Son-nez les ma-ti-nes" },
        { "Italian, dear", "Ca-ro mio ben, cre-di-mi al-men, sen-za di te lan-gui-sce~il cor, il tuo fe-del so-spi-ra~o-gnor" },
        { "Italian, feather", "La don-na~è mo-bi-le qual piu-ma~al ven-to, mu-ta d'ac-cen-to e di pen-sie-ro, sem-pre~un a-ma-bi-le leg-gia-dro vi-so" },
        { "Latin", "A-ve ve-rum cor-pus na-tum de Ma-ri-a vir-gi-ne, ve-re pas-sum, im-mo-la-tum in cru-ce pro ho-mi-ne" },
        { "Latin, two words", "A-ve Ma-ri-a! A-ve Ma-ri-a!" },
        { "Latin, short", "Do-na no-bis pa-cem" },
        { "Spanish", "Cie-li-to lin-do, de la Sier-ra Mo-re-na vie-nen ba-jan-do un par de o-ji-tos ne-gros de con-tra-ban-do" },
        { "Norwegian", "Ja, vi els-ker det-te lan-det, som det sti-ger frem, fu-ret, vær-bitt o-ver van-net, med de tu-sen hjem" },
    };

    [Theory]
    [MemberData(nameof(OtherLanguages))]
    public void Of_OtherLanguage_KnowsNothing(string name, string line)
    {
        var stresses = EnglishStress.Of(SungLine.Of(line));

        Assert.True(stresses.All(stress => stress == SyllableStress.Unknown), $"{name}: {SungLine.Text(stresses)}");
    }

    // From memory: a hymn by H. F. Lyte (1847), and lines made for this test. The stresses: the CMU Pronouncing Dictionary for words of several syllables;
    // words of one syllable: common practice, no source.
    [Theory]
    [InlineData("A-bide with me; fast falls the ev-en-tide; the dark-ness deep-ens; Lord, with me a-bide", "uSuuSSuSu?uSuSuSuuuS")]
    [InlineData("The heav'n-ly light is on the wa-ter, and the moon-light", "uSuSuuuSuuuS?")]
    [InlineData("O’er the hill ’twas wand'-ring and the ev'-ning fell", "uuSuSuuuSuS")]
    [InlineData("and the wan-d'ring wind in the morn-ing", "uuSuSuuSu")]
    [InlineData("He gave~to an-oth-er the glo-ry~of the ri-ver", "uSuSuuSuuSu")]
    [InlineData("I went to~an old and gol-den gate", "uSuSuSuS")]
    [InlineData("Hear the wa-ter— “Come,” said the “sil-ver” moon; the hills—the hills", "SuSuSSuSuSuSS")]
    [InlineData("HE LOV-ETH the bless-èd and the fix-ed star, thou know-est them", "uSuuSuuuSuSuSuu")]
    [InlineData("The hal-le-lu-jah of a-sail-ing boats, but not the lan-terns", "u?uSuuuSuSu?uSu")]
    [InlineData("You’ll see that they're sing-in' and the king's on the wa-ter", "uS?uSuuuSuuSu")]
    [InlineData("The ‘gold-en’ bird’s gleam-in’ and the fer-ry-man's gone to the wa-ter", "uSuSSuuuSuuSuuSu")]
    [InlineData("Not a light to all the lan-terns, and no wind", "?uSu?uSuu?S")]
    [InlineData("The rec-ord of the ad-dress is in the wa-ter and the hill", "u??uu??uuuSuuuS")]
    [InlineData("The fam'-ly and the mem'-ry of the nat'-ral and the bound'-ry, giv'n o'er-board to the glor'-ious king", "uSuuuSuuuSuuuSuSS?uuSuS")]
    [InlineData("Hoy-da, hoy-da, jol-ly Rut-ter-kin! His brain be wise as a-ny duck, like some old lan-tern, hoy-da, hoy-da, hoy-da", "????SuSu?uSuSuSuSS?SSu??????")]
    [InlineData("Be-cause the wa-ter is gold-en", "uSuSuuSu")]
    [InlineData("BLESSE\u0300D~be the glow-ing wa-ter and the un-known zorb-le of the hill", "SuSuSuuuuS??uuS")]
    [InlineData("The rose _ _ is o-pening to the * sun", "uS__uSuuu?S")]
    public void Of_English_StressesAsTheDictionarySays(string line, string expected)
    {
        var verse = SungLine.Of(line);

        Assert.Equal(expected, SungLine.Text(EnglishStress.Of(verse)));
    }

    [Fact]
    public void Of_AnyText_HasAStressForEachNote()
    {
        var random = new Random(5);
        string[] pieces = ["'", "’", "the", "lan", "tern", "heav", "n", "d", "ed", "eth", "a", "è", "e\u0300", "—", " ", "", "in", "s", "\ud800", "4", "ö", new string('\'', 300), new string('o', 300)];
        for (var i = 0; i < 2000; i++)
        {
            var verse = new Syllable?[random.Next(12)];
            for (var note = 0; note < verse.Length; note++)
            {
                var text = string.Concat(Enumerable.Range(0, random.Next(1, 4)).Select(_ => pieces[random.Next(pieces.Length)]));
                verse[note] = random.Next(8) == 0 ? null : new Syllable(text, (SyllablePlace)random.Next(4), random.Next(1, 3)) { Stress = (Stress)random.Next(3) };
            }

            Assert.Equal(verse.Length, EnglishStress.OfSong([SungLine.Of("The wa-ter and the hill of the king are gold-en to my eyes"), verse, verse])[1].Count);
        }
    }

    [Fact]
    public void Of_MarkedSyllables_FollowsTheMarksInAnyLanguage()
    {
        var english = SungLine.Of("The gold-en gate is on the wa-ter");
        english[0] = english[0]! with { Stress = Stress.Strong };
        english[1] = english[1]! with { Stress = Stress.Weak };
        var german = SungLine.Of("Sah ein Knab ein Rös-lein stehn");
        german[2] = german[2]! with { Stress = Stress.Strong };
        german[3] = german[3]! with { Stress = Stress.Weak };

        Assert.Equal("SuuSuuuSu", SungLine.Text(EnglishStress.Of(english)));
        Assert.Equal("??Su???", SungLine.Text(EnglishStress.Of(german)));
    }

    [Fact]
    public void Of_SyllableHeldOverFromTheSectionBefore_IsHeld()
    {
        var verse = new[] { Syllable.HeldOver with { Notes = 2 }, null, null }.Concat(SungLine.Of("the gold-en gate is on the wa-ter")).ToArray();

        Assert.Equal("__?uSuSuuuSu", SungLine.Text(EnglishStress.Of(verse)));
    }

    [Fact]
    public void Of_WordCutByTheSection_IsUnknown()
    {
        var verse = SungLine.Of("lan-tern on the wa-ter and the gold-en");

        Assert.Equal("?uuSuuu?", SungLine.Text(EnglishStress.Of(verse[1..^1])));
    }

    [Fact]
    public void OfSong_VersesOfTwoLanguages_JudgesLongVersesByThemselves()
    {
        var song = EnglishStress.OfSong(
        [
            SungLine.Of("Am Brun-nen vor dem To-re, da steht ein Lin-den-baum, ich träumt in sei-nem Schat-ten"),
            SungLine.Of("The lin-den by the gate-way is old and full of leaves, and un-der it the wa-ter"),
        ]);

        Assert.All(song[0], stress => Assert.Equal(SyllableStress.Unknown, stress));
        Assert.Equal("uSuuu", SungLine.Text(song[1])[..5]);
    }

    [Fact]
    public void OfSong_ShortVerse_IsJudgedWithTheOthers()
    {
        var refrain = SungLine.Of("Hoy-da, lan-tern!");

        Assert.Equal("????", SungLine.Text(EnglishStress.Of(refrain)));
        Assert.Equal("??Su", SungLine.Text(EnglishStress.OfSong([refrain, SungLine.Of("The gold-en gate is on the wa-ter and the hill")])[0]));
        Assert.Equal("????", SungLine.Text(EnglishStress.OfSong([refrain, SungLine.Of("Am Brun-nen vor dem To-re, da steht ein Lin-den-baum")])[0]));
    }

    /// <summary>Every word of the CMU Pronouncing Dictionary (npm cmu-pronouncing-dictionary 3.0.0), read by node: one digit for each vowel.</summary>
    [Fact]
    public void Table_EveryWordOfThePronouncingDictionary_HasItsStresses()
    {
        var words = new Dictionary<string, List<string>>(StringComparer.Ordinal);
        foreach (var line in PronouncingDictionary.Lines())
        {
            var (entry, sounds) = (line.Split('\t')[0], line.Split('\t')[1]);
            var word = entry.Split('(')[0];
            var digits = string.Concat(sounds.Where(char.IsDigit));
            words.TryAdd(word, []);
            if (digits.Length > 0 && !words[word].Contains(digits, StringComparer.Ordinal))
            {
                words[word].Add(digits);
            }
        }

        Assert.True(words.Count > 126_000, $"{words.Count} words");
        Assert.All(words, word => Assert.Equal(word.Value, EnglishStressTable.Instance.Of(word.Key)));
        Assert.Equal(words.Count(word => word.Value.Count > 0), EnglishStressTable.Instance.Count);
        Assert.All(["", "'", "a'", "zzzzz", "lanternly", "röslein", new string('a', 300)], word => Assert.Empty(EnglishStressTable.Instance.Of(word)));
    }

    // The first constraint of Hayes 2009, Textsetting as constraint conflict (from its abstract): stress goes with strong position; here only inside a word, where
    // no stressed syllable is on a weaker place than its unstressed neighbour.
    [Fact]
    public void Of_EnglishSongs_PutStressOnStrongPlacesInsideWords()
    {
        var (kept, broken) = (0, 0);
        var (content, function, either) = (new List<bool>(), new List<bool>(), new List<bool>());
        foreach (var (line, weights) in EnglishLines())
        {
            var stresses = EnglishStress.Of(line);
            for (var i = 0; i < line.Count; i++)
            {
                var next = i + 1;
                while (next < line.Count && stresses[next] == SyllableStress.Held)
                {
                    next++;
                }

                if (line[i] is { Place: SyllablePlace.Single })
                {
                    (stresses[i] == SyllableStress.Stressed ? content : stresses[i] == SyllableStress.Unstressed ? function : either).Add(weights[i] >= -1);
                }
                else if (next < line.Count && line[i] is { Place: SyllablePlace.Begin or SyllablePlace.Middle } && weights[i] != weights[next]
                    && (stresses[i], stresses[next]) is (SyllableStress.Stressed, SyllableStress.Unstressed) or (SyllableStress.Unstressed, SyllableStress.Stressed))
                {
                    var isKept = stresses[i] == SyllableStress.Stressed == weights[i] > weights[next];
                    (kept, broken) = isKept ? (kept + 1, broken) : (kept, broken + 1);
                    output.WriteLine(isKept ? "" : $"{line[i]!.Text}-{line[next]?.Text} {weights[i]} {weights[next]}");
                }
            }
        }

        var (ofContent, ofFunction) = (Share(content), Share(function));
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{kept} kept, {broken} broken; on strong beats {ofContent:P0} of {content.Count} content words, {ofFunction:P0} of {function.Count} function words, {Share(either):P0} of {either.Count} others"));
        Assert.True(kept + broken >= 50, $"{kept + broken} pairs");
        Assert.InRange((double)kept / (kept + broken), 0.9, 1);
        Assert.True(ofContent > 1.5 * ofFunction, $"{ofContent:P0} {ofFunction:P0}");
    }

    private static double Share(List<bool> of) => of.Count(one => one) / (double)of.Count;

    private static IEnumerable<(IReadOnlyList<Syllable?> Line, IReadOnlyList<int> Weights)> EnglishLines()
    {
        string[] folders = ["open-hymnal", "openscore-common-time"];
        foreach (var file in folders.SelectMany(folder => Directory.EnumerateFiles(References.RequireData(folder)).Where(file => file.EndsWith(".abc", StringComparison.Ordinal) || file.EndsWith(".musicxml", StringComparison.Ordinal))))
        {
            var bytes = File.ReadAllBytes(file);
            var text = ScoreImport.Make(bytes, ScoreFiles.FormatOf(bytes, file), new ScoreOptions { Name = file }).Text!;
            foreach (var section in ChartReader.ReadText(text, file).Chart!.Sections.Where(section => section.Tune is not null))
            {
                foreach (var verse in section.Tune!.Verses)
                {
                    yield return (verse, [.. section.Tune.Notes.Select(note => WeightOf(section, note.Onset))]);
                }
            }
        }
    }

    private static int WeightOf(Section section, Span onset)
    {
        if (onset < Span.Zero)
        {
            return section.Bars[0].Meter.WeightAt(section.Bars[0].Meter.Length + onset);
        }

        var bar = 0;
        while (onset >= section.Bars[bar].Meter.Length)
        {
            onset -= section.Bars[bar++].Meter.Length;
        }

        return section.Bars[bar].Meter.WeightAt(onset);
    }
}
