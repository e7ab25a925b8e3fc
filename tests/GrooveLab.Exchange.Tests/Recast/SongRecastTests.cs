using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Songs in other meters: bars, strong places, chords, tempi, pickups and form.</summary>
public class SongRecastTests
{
    private const string Song = """
        format = 2
        title = "Tide Table"
        key = "D dorian"
        tempo = "quarter = 96"
        meter = "4/4"
        bar-groups = 4

        [[section]]
        name = "verse"
        chords = "| Dm | C / F / | F G | Dm |"
        break = 1
        [section.tune]
        pickup = "A3:1/8 C4"
        notes = "| D4:1/4. E4:1/8 F4:1/4 G4 | A4:1/8 G4 E4:1/4- E4:1/8 C4 D4:1/4 | F4:3/16 F4:1/16 A4:1/4 G4:1/8 F4 E4 D4- | D4:3 z:1 |"
        words = ["The lan-tern on the fer-ry swings and flick-ers low, a light that nev-er goes"]
        [[section.line]]
        name = "second"
        notes = "| A3:2 A3:2 | C4:4 | F4:2 G4:1 A4 | D4:3 z:1 |"
        """;

    [Fact]
    public void Of_DottedFigureInHalfABar_KeepsLongShort()
    {
        // Dotted eighth, sixteenth, quarter in half a bar: quarter, eighth, quarter of 5/8, the only best places by brute force with costs 1, 0.3, 0.3 (computed for this
        // project with an independent program).
        var recasting = Recast("5/8 3+2", SourceSpan.HalfBar);
        Assert.Equal([(4, "0"), (4, "1/4"), (4, "3/8")], Places(recasting).Skip(11).Take(3));
    }

    [Theory]
    [InlineData("5/8 3+2")]
    [InlineData("5/8 2+3")]
    [InlineData("5/8 none")]
    [InlineData("7/8 3+2+2")]
    [InlineData("5/4 3+2")]
    public void Of_HalfBars_PutsBeatsOneAndThreeOnDownbeats(string meter)
    {
        // Common practice, no source: two bars of five to one of four, beats one and three on downbeats.
        var recasting = Recast(meter, SourceSpan.HalfBar);
        var source = recasting.Source.Sections[0].Tune!;
        var result = recasting.Result.Sections[0];
        var bar = result.Bars[0].Meter.Length;
        Assert.Equal(8, result.Bars.Count);
        Assert.Equal(new BarGroups(2), result.BarGroups);
        Assert.Equal(source.Notes.Count, result.Tune!.Notes.Count);
        Assert.Contains(source.Notes, note => (note.Onset / Span.Of(1, 2)).IsInteger);
        foreach (var (was, now) in source.Notes.Zip(result.Tune.Notes))
        {
            if (was.Onset / Span.Of(1, 2) is { IsInteger: true } halves)
            {
                Assert.Equal(bar * halves, now.Onset);
            }
        }

        // E of bar 2 is held over beat three, and still is.
        Assert.True(result.Tune.Notes[8].Onset < bar * 3 && result.Tune.Notes[8].Onset + result.Tune.Notes[8].Length > bar * 3);
    }

    [Theory]
    [InlineData("7/8 2+2+3", 4)]
    [InlineData("7/8 3+2+2", 3)]
    [InlineData("5/4 3+2", 3)]
    [InlineData("5/4 2+3", 2)]
    [InlineData("9/8 2+2+2+3", 4)]
    [InlineData("20/16 5+5+5+5", 10)]
    public void Of_Bars_PutsBeatThreeOnTheGroupNearestTheMiddle(string meter, int unit)
    {
        var recasting = Recast(meter, SourceSpan.Bar);
        var bar = recasting.Result.Sections[0].Bars[0].Meter;
        Assert.Equal(4, recasting.Result.Sections[0].Bars.Count);
        var third = recasting.Stretches[0].Lines[0][4];
        Assert.Equal(Span.Of(1, 2), third.From);
        Assert.Equal(bar.Unit * unit, third.To);
        Assert.All(Sounding(recasting).Zip(Sounding(recasting).Skip(1)), pair => Assert.True(pair.First.Onset < pair.Second.Onset));
    }

    [Fact]
    public void Of_FumeFumeInSixteen_IsTheSonClave()
    {
        // Fume-fume, 0 2 4 7 9 of twelve pulses, becomes the clave son, 0 3 6 10 12 of sixteen (Gómez and others 2007; Toussaint 2013, chapter 12; figures from memory).
        // The nearest places would be 0 3 5 9 12.
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "12/8"
            [[section]]
            name = "bell"
            chords = "| C | C |"
            [section.tune]
            notes = "| C4:1/4 C4:1/4 C4:3/8 C4:1/4 C4:3/8 | % |"
            """);
        var notes = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("16/16 (2+2)+(2+2)+(2+2)+(2+2)"), SourceSpan.Bar))).Result.Sections[0].Tune!.Notes;
        Assert.Equal([0, 3, 6, 10, 12, 16, 19, 22, 26, 28], notes.Select(note => (int)(note.Onset / Span.Of(1, 16)).Numerator));
    }

    [Theory]
    [InlineData("C4:1 D4 E4 F4", 0)]
    [InlineData("C4:1.5 D4:1.5 E4:1", 2)]
    [InlineData("C4:1 D4:2 E4:1", 1)]
    public void Measures_Syncopation_AddsTheLevelsByWhichHeldOverPlacesAreStronger(string notes, int levels)
    {
        // Weights of 4/4: 0, -2, -1, -2 for the beats, -3 for eighths between them (Longuet-Higgins and Lee 1984).
        var song = OneBar(notes);
        var measures = new RecastMeasures(SongRecast.Of(song, new RecastOptions(new Treatment(Meter("8/8 4+4"), SourceSpan.Bar))));
        Assert.Equal(levels, measures.SyncopationBefore);
    }

    [Theory]
    [InlineData(1, "3+2")]
    [InlineData(2, "3+2")]
    [InlineData(3, "2+3")]
    [InlineData(4, "2+3")]
    public void Of_BeatAdded_MovesWhatFollowsByABeat(int after, string grouping)
    {
        var wish = new TreatmentWish(new TimeSignature(5, 4)) { BeatAfter = after };
        var treatment = Assert.Single(TreatmentChoice.Treatments(Read(Song), wish));
        Assert.Equal(grouping, treatment.To.Grouping.ToString());
        var recasting = SongRecast.Of(Read(Song), new RecastOptions(treatment));
        foreach (var note in recasting.Stretches[0].Lines[0])
        {
            var (bar, offset) = recasting.Stretches[0].SourceBar(note.From);
            var moved = offset >= Span.Of(after, 4) || bar < 0 || note.IsPushed && after == 4;
            Assert.Equal(bar < 0 ? note.From : (Span.Of(5, 4) * bar) + offset + (moved ? Span.Of(1, 4) : Span.Zero), note.To);
        }

        // The beat keeps its length.
        Assert.Equal(recasting.Source.Tempo, recasting.Result.Tempo);
    }

    [Fact]
    public void Of_BeatAddedAtTheEnd_LeadsIntoTheNextBarAfterTheGap()
    {
        // A rest, then two eighths that lead into bar 2, and a note that anticipates bar 3: they stay before their downbeats, the gap opens before them.
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            [[section]]
            name = "verse"
            chords = "| C | C | C |"
            [section.tune]
            notes = "| C4:2 z:1 D4:1/8 E4 | F4:3 G4:1/8 A4- | A4:4 |"
            """);
        var recasting = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/4 2+3"), SourceSpan.Bar) { BeatAfter = 4 }));
        Assert.Equal(["0", "1", "9/8", "5/4", "2", "19/8"], recasting.Result.Sections[0].Tune!.Notes.Select(note => note.Onset.ToString()));
    }

    [Theory]
    [InlineData("7/8 2+3+2", null, "2+2+3 or 3+2+2")]
    [InlineData("5/4 4+1", null, "3+2")]
    [InlineData("5/4 3+2", 4, "2+3")]
    [InlineData("5/4 2+3", 1, "3+2")]
    public void Of_GroupingAgainstTheConversion_NamesWhatFits(string meter, int? after, string fitting)
    {
        var problem = Assert.Throws<ChartProblemException>(() => SongRecast.Of(Read(Song), new RecastOptions(new Treatment(Meter(meter), SourceSpan.Bar) { BeatAfter = after })));
        Assert.Contains(fitting, problem.Message, StringComparison.Ordinal);
        Assert.Equal("verse", problem.Section);
    }

    [Fact]
    public void Of_StrayBarOfTwo_BecomesOneBarAndAGroupOfItsOwn()
    {
        var recasting = SongRecast.Of(Stray("[2/4] C", "C4:2"), new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar)));
        var section = recasting.Result.Sections[0];
        Assert.Equal(5, section.Bars.Count);
        Assert.All(section.Bars, bar => Assert.Equal(Meter("5/8 3+2"), bar.Meter));
        Assert.Equal([2, 1, 2], section.BarGroups.Pattern);
        Assert.Equal(recasting.Result.Sections[0].Tune, Read(ImportedChartText.Write(recasting.Result, [])).Sections[0].Tune);
    }

    [Fact]
    public void Of_StrayBarOfThree_BecomesABarAndAShortOne()
    {
        var recasting = SongRecast.Of(Stray("[3/4] C", "C4:1 D4 E4"), new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar)));
        Assert.Equal(["5/8", "5/8", "5/8", "3/8", "5/8", "5/8"], recasting.Result.Sections[0].Bars.Select(bar => bar.Meter.Signature.ToString()));
        Assert.True(recasting.Result.Sections[0].Bars[3].Inserted);
        Assert.Equal(["0", "5/8", "5/4", "13/8", "15/8", "9/4", "23/8"], recasting.Result.Sections[0].Tune!.Notes.Select(note => note.Onset.ToString()));
    }

    [Fact]
    public void Of_StrayBarWithABeatAddedElsewhere_Stays()
    {
        var recasting = SongRecast.Of(Stray("[2/4] C", "C4:2"), new RecastOptions(new Treatment(Meter("5/4 2+3"), SourceSpan.Bar) { BeatAfter = 4 }));
        Assert.Equal(["5/4", "2/4", "5/4"], recasting.Result.Sections[0].Bars.Select(bar => bar.Meter.Signature.ToString()));
    }

    [Fact]
    public void Of_Chords_KeepTheirMetricalPlaces()
    {
        // Beats one and three stay on downbeats; a chord on beat two goes to the second group.
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            [[section]]
            name = "verse"
            chords = "| C D E F | G |"
            """);
        var bars = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0].Bars;
        Assert.Equal(["C 0, D 3/8", "E 0, F 3/8", "G 0", "G 0"], bars.Select(bar => string.Join(", ", bar.Chords.Select(chord => $"{chord.Symbol.Text} {chord.Onset}"))));
        bars = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("7/8 2+2+3"), SourceSpan.Bar))).Result.Sections[0].Bars;
        Assert.Equal("C 0, D 1/4, E 1/2, F 3/4", string.Join(", ", bars[0].Chords.Select(chord => $"{chord.Symbol.Text} {chord.Onset}")));
    }

    [Fact]
    public void Of_ChordStruckWithAPushedNote_MovesWithIt()
    {
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "8/8 4+4"
            [[section]]
            name = "verse"
            chords = "| C / / / / / / D | D / / / / / / E | E |"
            [section.tune]
            notes = "| C4:4 C4:3 D4:1- | D4:7 E4:1- | E4:8 |"
            """);
        var options = new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar));
        string[] Chords(RecastOptions given) => [.. SongRecast.Of(song, given).Result.Sections[0].Bars.Select(bar => string.Join(", ", bar.Chords.Select(chord => $"{chord.Symbol.Text} {chord.Onset}")))];
        Assert.Equal(["C 0", "C 0, D 1/2", "D 0", "D 0, E 1/2", "E 0", "E 0"], Chords(options));
        Assert.Equal(["C 0", "C 0", "D 0", "D 0", "E 0", "E 0"], Chords(options with { Straighten = true }));
    }

    [Fact]
    public void Of_FurtherLines_AreRecastWithTheTune()
    {
        var result = Recast("5/8 3+2", SourceSpan.HalfBar).Result.Sections[0].Tune!;
        Assert.Equal("second", result.Lines[0].Name);
        Assert.Equal(["0", "5/8", "5/4", "5/2", "25/8", "7/2", "15/4"], result.Lines[0].Notes.Select(note => note.Onset.ToString()));
    }

    [Theory]
    [InlineData(RecastTempo.Usual, 240)]
    [InlineData(RecastTempo.SameLength, 240)]
    [InlineData(RecastTempo.SameNotes, 192)]
    public void Of_HalfBars_LastAsLongUnlessAsked(RecastTempo tempo, int eighths)
    {
        var result = SongRecast.Of(Read(Song), new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar)) { Tempo = tempo }).Result;
        Assert.Equal(eighths, new FormPlan(result).BarAt(0).Tempo.PerMinute(Span.Of(1, 8)));
    }

    [Fact]
    public void Of_BreaksAndTempoChanges_KeepTheirBars()
    {
        var song = Read(Song.Replace("break = 1", "break = 1\ntempo = \"to quarter = 60 over bars 3-4\"", StringComparison.Ordinal));
        var section = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0];
        Assert.Equal(2, section.BreakBars);
        var ramp = Assert.Single(section.Ramps);
        Assert.Equal((5, 8, "eighth = 150"), (ramp.First, ramp.Last, ramp.To.ToString()));
    }

    [Fact]
    public void Of_MoreNotesThanPlaces_GetAFinerGridAndNoneIsLost()
    {
        var song = OneBar(string.Join(' ', Enumerable.Repeat("C4:1/16", 16)));
        var notes = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0].Tune!.Notes;
        Assert.Equal(16, notes.Select(note => note.Onset).Distinct().Count());
        var crowded = OneBar(string.Join(' ', Enumerable.Repeat("C4:1/256", 256)));
        var problem = Assert.Throws<ChartProblemException>(() => SongRecast.Of(crowded, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))));
        Assert.Contains("more notes than places", problem.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_PushedNotes_StayPushedOrAreStraightened()
    {
        var song = OneBar("C4:1/4. D4:1/8- D4:1/2");
        var options = new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar));
        Assert.Equal(["0", "1/2"], SongRecast.Of(song, options).Result.Sections[0].Tune!.Notes.Select(note => note.Onset.ToString()));
        Assert.Equal(["0", "5/8"], SongRecast.Of(song, options with { Straighten = true }).Result.Sections[0].Tune!.Notes.Select(note => note.Onset.ToString()));
    }

    [Fact]
    public void Of_StressedSyllableThatAnticipatesADownbeat_StaysRightBeforeIt()
    {
        // "goes" is sung an eighth early; on the group start before it, it would be early by two eighths of five.
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            [[section]]
            name = "verse"
            chords = "| C | C |"
            [section.tune]
            notes = "| F4:1/2 G4:1/8 F4 E4 D4- | D4:4 |"
            words = ["light that !strong!nev-!weak!er !strong!goes"]
            """);
        var notes = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0].Tune!.Notes;
        Assert.Equal(Span.Of(9, 8), notes[^1].Onset);
    }

    [Fact]
    public void Of_Breath_StaysABreath()
    {
        // A rest of a quarter at 96 quarters a minute lasts 625 ms.
        var song = OneBar("C4:1/4 D4:1/8 z:1/4 E4:1/8 F4:1/4");
        var recasting = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar)));
        var notes = recasting.Result.Sections[0].Tune!.Notes;
        var rest = notes[2].Onset - notes[1].Onset - notes[1].Length;
        Assert.True(rest.Wholes.ToDouble() * 60 / recasting.Seams[0].After.ToDouble() >= 0.3, rest.ToString());
    }

    [Fact]
    public void Cheapest_WithoutASpan_TakesHalfBarsForFiveEighthsAndBarsForFiveFour()
    {
        var song = Read(Song);
        TreatedSong Of(TimeSignature to) => TreatmentChoice.Cheapest(song, TreatmentChoice.Treatments(song, new TreatmentWish(to)), new RecastOptions(new Treatment(Meter("5/8"), SourceSpan.Bar)));
        Assert.Equal(SourceSpan.HalfBar, Of(new TimeSignature(5, 8)).Treatment.Span);
        Assert.Equal(SourceSpan.Bar, Of(new TimeSignature(5, 4)).Treatment.Span);
    }

    [Fact]
    public void Ranking_OfASong_RanksWithinAConversionAndNeverTheSourceMeter()
    {
        var ranked = TreatmentRanking.Of(Read(Song), null, new RecastOptions(new Treatment(Meter("5/8"), SourceSpan.Bar)));
        Assert.True(ranked.Count >= 40, $"{ranked.Count}");
        Assert.DoesNotContain(ranked, one => one.Song.Treatment.To.Signature == new TimeSignature(4, 4));
        foreach (var group in ranked.GroupBy(one => (one.Song.Treatment.To.Signature, one.Song.Treatment.Span, one.Song.Treatment.BeatAfter is null)))
        {
            Assert.Equal(Enumerable.Range(1, group.Count()), group.Select(one => one.Rank));
            Assert.Equal(group.Select(one => one.Song.Cost).Order(), group.Select(one => one.Song.Cost));
        }
    }

    [Fact]
    public void Divided_ThirdVerse_IsASectionOfItsOwnWithItsWords()
    {
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            form = ["verse x2", "bridge", "verse"]
            [[section]]
            name = "verse"
            chords = "| C |"
            [section.tune]
            notes = "| C4:4 |"
            words = ["one", "two", "three"]
            [[section]]
            name = "bridge"
            chords = "| F |"
            """);
        Assert.Equal((0, 3), PlayingsApart.Meant(song, "Verse 3"));
        Assert.Null(PlayingsApart.Meant(song, "verse 4"));
        var (divided, name) = PlayingsApart.Divided(song, 0, 2);
        Assert.Equal("verse 2", name);
        Assert.Equal(["verse", "verse 2", "bridge", "verse"], divided.Form.Select(step => divided.Sections[step.Section].Name));
        Assert.Equal(["one", "three"], divided.Sections[0].Tune!.Verses.Select(verse => verse[0]!.Text));
        Assert.Equal("two", Assert.Single(divided.Sections[1].Tune!.Verses)[0]!.Text);
    }

    // Once a bug: both sections kept what the chart asked of all playings.
    [Fact]
    public void Divided_ThirdVerse_OrdersGoWithTheirPlayings()
    {
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            times = 2
            [[section]]
            name = "verse"
            repeat = 3
            chords = "| C | F |"
            energy = [1, 2, 3, 4]
            tasks = ["roll: rests, high, thin"]
            """);
        var (divided, _) = PlayingsApart.Divided(song, 0, 3);
        Assert.Equal([1, 2, 4], divided.Sections[0].Orders!.Energies);
        Assert.Equal([3, 4], divided.Sections[1].Orders!.Energies);
        Assert.Equal([1, 2, 4], PlayingsApart.Divided(song with { Times = 1 }, 0, 3).Chart.Sections[0].Orders!.Energies);
        Assert.Equal([PartTask.Rests, PartTask.High, PartTask.Thin], divided.Sections[0].Orders!.Tasks[0].Tasks);
        Assert.Equal([PartTask.Thin], divided.Sections[1].Orders!.Tasks[0].Tasks);
    }

    [Fact]
    public void Of_PinnedNotes_StandWhereTheMusicianSaysAndTheOthersFindTheirPlaces()
    {
        var song = Pinned("verse bar 1: 1 3.5 | 1 - 5");
        var notes = SongRecast.Of(song, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0].Tune!.Notes;
        Assert.Equal(["0", "5/16", "5/8", "1", "9/8"], notes.Select(note => note.Onset.ToString()));
        var free = SongRecast.Of(song with { Recast = null }, new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))).Result.Sections[0].Tune!.Notes;
        Assert.NotEqual(free.Select(note => note.Onset), notes.Select(note => note.Onset));
    }

    [Theory]
    [InlineData("verse bar 1: 1 3", "2")]
    [InlineData("verse bar 1: 1 3 | 1 3", "3 notes")]
    [InlineData("verse bar 1: 1 9 | 1 - 5", "outside the units 1 to 5")]
    public void Of_PinThatDoesNotFit_SaysWhy(string pin, string why)
    {
        var problem = Assert.Throws<ChartProblemException>(() => SongRecast.Of(Pinned(pin), new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))));
        Assert.Contains(why, problem.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("verse 1: 1", "names no section and bar")]
    [InlineData("vers bar 1: 1", "did you mean verse")]
    [InlineData("verse bar 7: 1", "has no bar 7")]
    [InlineData("verse bar 1: 3 1", "ascending")]
    public void Read_PinThatCannotBe_SaysWhy(string pin, string why)
    {
        var read = ChartReader.ReadText(PinnedText(pin), "song.toml");
        Assert.Contains(why, Assert.Single(read.Problems).ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Of_CostsOfTheChart_Decide()
    {
        // Moving costs nothing against keeping the time to the next note: three quarters in half a bar of triplets spread evenly.
        var song = OneBar("C4:3/16 D4:1/16 E4:1/4 F4:1/2");
        var dear = song with { Recast = new RecastNotes { Costs = [new RecastCost("moved", 100), new RecastCost("interval", 0), new RecastCost("figure", 0)] } };
        var options = new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar));
        Assert.Equal(["0", "1/4", "3/8", "5/8"], SongRecast.Of(song, options).Result.Sections[0].Tune!.Notes.Select(note => note.Onset.ToString()));
        Assert.NotEqual(PlacementCosts.Usual, options.CostsFor(dear));
        Assert.Equal(100, options.CostsFor(dear).Moved);
        Assert.NotEqual(SongRecast.Of(song, options).Places.Cost, SongRecast.Of(dear, options).Places.Cost);
    }

    [Fact]
    public void Of_SectionsTreatedApart_StateTheirTempi()
    {
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            [[section]]
            name = "verse"
            chords = "| C |"
            [[section]]
            name = "bridge"
            chords = "| F |"
            """);
        var options = new RecastOptions(new Treatment(Meter("5/8 3+2"), SourceSpan.HalfBar))
        {
            Sections = new Dictionary<string, Treatment> { ["bridge"] = new(Meter("5/4 2+3"), SourceSpan.Bar) { BeatAfter = 3 } },
        };
        var recasting = SongRecast.Of(song, options);
        var plan = new FormPlan(Read(ImportedChartText.Write(recasting.Result, [])));

        // A half bar lasts as long as a bar of 5/8; a quarter stays a quarter.
        Assert.Equal(new Rational(5, 4), plan.BarAt(0).Tempo.Seconds(plan.BarAt(0).Meter.Length));
        Assert.Equal(new Rational(5, 8), plan.BarAt(2).Tempo.Seconds(Span.Of(1, 4)));
    }

    private const string LongPickup = """
        format = 2
        key = "C"
        tempo = "quarter = 96"
        meter = "4/4"
        form = ["verse x2"]
        [[section]]
        name = "verse"
        chords = "| C | F | C |"
        [section.tune]
        pickup = "G4:1 A4 B4"
        notes = "| C5:2 D5 | E5:4 | C5:1 z:3 |"
        words = ["Oh when the saints go march-ing", "And if the saints go home now"]
        """;

    [Theory]
    [InlineData("5/8 3+2", SourceSpan.HalfBar, 2)]
    [InlineData("5/8 3+2", SourceSpan.Beat, 3)]
    public void Of_PickupOfABarOrMore_IsKeptAndPlayed(string meter, SourceSpan span, int bars)
    {
        var recasting = SongRecast.Of(Read(LongPickup), new RecastOptions(new Treatment(Meter(meter), span)));
        var read = Read(ImportedChartText.Write(recasting.Result, []));
        var tune = read.Sections[0].Tune!;
        Assert.Equal(recasting.Stretches[0].Lines[0].Select(note => note.To), tune.Notes.Select(note => note.Onset));
        Assert.True(tune.PickupLength >= Meter(meter).Length * (bars - 1) && tune.PickupLength <= Meter(meter).Length * bars);
        // The second verse's pickup sounds over the end of the first, and the first one's in the lead-in.
        Assert.Equal(read.Sections[0].Bars.Count * 2, new FormPlan(read).Bars);
    }

    [Fact]
    public void FormPlan_PickupLongerThanTheSectionBefore_IsRefused()
    {
        var song = LongPickup.Replace("form = [\"verse x2\"]", "form = [\"turn\", \"verse\"]", StringComparison.Ordinal).Replace("[[section]]", "[[section]]\nname = \"turn\"\nmeter = \"2/4\"\nchords = \"| G |\"\n[[section]]", StringComparison.Ordinal);
        var problem = Assert.Throws<ChartProblemException>(() => new FormPlan(Read(song.Replace("G4:1 A4 B4", "G4:2 A4:2 B4:1", StringComparison.Ordinal))));
        Assert.Equal("the pickup of verse is longer than turn, which is played before it; make it shorter", problem.Message);
        // A pickup shorter than a bar was always played as far as there was room.
        Assert.Equal(4, new FormPlan(Read(song)).Bars);
    }

    [Theory]
    [InlineData("5/8 3+2", SourceSpan.HalfBar, 8, "5/8")]
    [InlineData("7/8 2+2+3", SourceSpan.Bar, 4, "7/8")]
    public void Of_SectionWhoseBeatsDoNotFitTheSpans_HasItsOwn(string meter, SourceSpan span, int bars, string signature)
    {
        // Half a bar of 4/4 would cut 6/8 after four eighths.
        var song = Read("""
            format = 2
            key = "C"
            tempo = "quarter = 96"
            meter = "4/4"
            [[section]]
            name = "verse"
            chords = "| C | C | C | C | C | C |"
            [[section]]
            name = "jig"
            meter = "6/8"
            tempo = "dotted quarter = 100"
            chords = "| F G | F G | F | F |"
            """);
        var jig = SongRecast.Of(song, new RecastOptions(new Treatment(Meter(meter), span))).Result.Sections[1];
        Assert.Equal(Enumerable.Repeat(signature, bars), jig.Bars.Select(bar => bar.Meter.Signature.ToString()));
        // A bar of 6/8 lasts 1.2 s, and so do the bars that it becomes.
        var wholes = jig.Tempo!.From!.Value.At(jig.Bars[0].Meter, jig.Bars[0].Meter.Length).WholesPerMinute;
        Assert.Equal(new Rational(12, 10), jig.Bars[0].Meter.Length.Wholes * (bars / 4) * 60 / wholes);
    }

    [Fact]
    public void Measures_PickupOverAStrongBeatWithABeatAdded_KeepsIt()
    {
        var treatment = new Treatment(Meter("5/4 2+3"), SourceSpan.Bar) { BeatAfter = 4 };
        var measures = new RecastMeasures(SongRecast.Of(Read(LongPickup), new RecastOptions(treatment)));
        Assert.Equal((6, 6), (measures.StrongBeats, measures.StrongBeatsKept));
    }

    private static Chart Read(string text) => ChartReader.ReadText(text, "song.toml") is { IsChart: true } read ? read.Chart : throw new InvalidOperationException(
        string.Join('\n', ChartReader.ReadText(text, "song.toml").Problems.Select(problem => problem.ToString())));

    private static Chart OneBar(string notes) => Read($$"""
        format = 2
        key = "C"
        tempo = "quarter = 96"
        meter = "4/4"
        [[section]]
        name = "verse"
        chords = "| C |"
        [section.tune]
        notes = "| {{notes}} |"
        """);

    private static Chart Pinned(string pin) => Read(PinnedText(pin));

    private static string PinnedText(string pin) => $$"""
        format = 2
        key = "C"
        tempo = "quarter = 96"
        meter = "4/4"
        [recast]
        pins = ["{{pin}}"]
        [[section]]
        name = "verse"
        chords = "| C |"
        [section.tune]
        notes = "| C4:1/4 D4:1/4 E4:1/4 F4:1/8 G4:1/8 |"
        """;

    private static Chart Stray(string chord, string notes) => Read($$"""
        format = 2
        key = "C"
        tempo = "quarter = 96"
        meter = "4/4"
        bar-groups = 2
        [[section]]
        name = "verse"
        chords = "| C | {{chord}} | G |"
        [section.tune]
        notes = "| C4:2 E4 | {{notes}} | G4:2 G4 |"
        """);

    private static BarMeter Meter(string text) => BarMeter.TryParse(text, out var meter, out var problem) ? meter : throw new ArgumentException(problem);

    private static SongRecasting Recast(string meter, SourceSpan span) => SongRecast.Of(Read(Song), new RecastOptions(new Treatment(Meter(meter), span)));

    private static IReadOnlyList<TuneNote> Sounding(SongRecasting recasting) => recasting.Result.Sections[0].Tune!.Notes;

    private static IEnumerable<(int Bar, string Offset)> Places(SongRecasting recasting) => recasting.Stretches[0].Lines[0].Select(note =>
    {
        var (bar, offset) = recasting.Stretches[0].TargetBar(note.To);
        return (bar, offset.ToString());
    });
}
