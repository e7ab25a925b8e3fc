using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

public sealed class WrittenOriginTests
{
    private static readonly Gen<Gig> Any = Gen.OneOf(Gigs.All, Gigs.Stopping, Gigs.Crowded);

    // In an excerpt of bars, a late note may be written outside and played inside.
    private static readonly Gen<Gig> InTime = Gen.OneOf(Gigs.All, Gigs.Stopping).Select(Gen.Int[0, 1_000_000], (gig, words) =>
        new Gig(LaidBack(Worded(gig.Chart, new Random(words)), LayBack.None), $"{gig.Text}; words {words}"));

    private static readonly Gen<Gig> Played = Gen.Select(Any, Gen.Int[4, 12], Gen.Int[0, 8], Gen.Int[0, 1_000_000], (gig, swing, looseness, words) => new Gig(
        Worded(gig.Chart, new Random(words)) with { Swing = new Rational(swing, 4), Looseness = looseness / 4.0 },
        $"{gig.Text}; swing {swing}/4, looseness {looseness}/4, words {words}"));

    [Fact]
    public void Written_AnyChart_IsPlayedLaterBySwingAndLatenessExactly() => Played.Sample(
        gig =>
        {
            var played = new Played(gig.Chart);
            foreach (var (bar, note, _, _) in played.Notes)
            {
                var written = note.Written;
                Assert.Equal(note.Onset, bar.Swing.Played(written.Onset + written.Late));
                Assert.Equal(note.Unpitched ? null : note.Key, written.Pitch?.Midi);
                Assert.True(written.Late >= Span.Zero);
                Assert.Equal(written.Ornament is null, written.Length > Span.Zero);
                Assert.Equal(note.Role == Role.Tune && bar.Index >= 0 && !bar.IsEnding, written.Tune is not null && bar.Index >= 0);
            }

            foreach (var bar in played.Form)
            {
                var place = played.Plan.BarAt(bar.Index);
                Assert.Equal(Swing.Of(gig.Chart.Swing, bar.Meter, place.Tempo).Ratio, bar.Swing.Ratio);
                Assert.Equal((place.Run.Key, place.Run.Verse), (bar.Key, bar.Playing));
            }
        },
        iter: 150,
        print: gig => gig.Text);

    [Fact]
    public void Written_SwingTakenAway_IsTheSame() => Played.Sample(
        gig =>
        {
            var swung = new Played(gig.Chart);
            var straight = new Played(gig.Chart with { Swing = Rational.One });
            // A roll goes in fewer notes where the units swing.
            Assert.Equal(
                straight.Notes.Where(sounded => sounded.Note.Role != Role.Roll).Select(sounded => (sounded.Bar.Index, sounded.Note.Part, sounded.Note.Written, sounded.Note.OffsetMicroseconds, sounded.Note.SpreadMicroseconds)),
                swung.Notes.Where(sounded => sounded.Note.Role != Role.Roll).Select(sounded => (sounded.Bar.Index, sounded.Note.Part, sounded.Note.Written, sounded.Note.OffsetMicroseconds, sounded.Note.SpreadMicroseconds)));
        },
        iter: 60,
        print: gig => gig.Text);

    [Fact]
    public void Written_HumanFeelTakenAway_IsTheSameAndOnlyTheOffsetsAreGone() => Played.Sample(
        gig =>
        {
            var loose = new Played(gig.Chart);
            var tight = new Played(gig.Chart with { Looseness = 0 });
            Assert.All(tight.Notes, sounded => Assert.Equal(0, sounded.Note.OffsetMicroseconds));
            Assert.Equal(
                tight.Notes.Select(sounded => (sounded.Bar.Index, sounded.Note.Part, sounded.Note.Written, sounded.Note.Onset, sounded.Note.SpreadMicroseconds)),
                loose.Notes.Select(sounded => (sounded.Bar.Index, sounded.Note.Part, sounded.Note.Written, sounded.Note.Onset, sounded.Note.SpreadMicroseconds)));
        },
        iter: 60,
        print: gig => gig.Text);

    [Fact]
    public void Written_NeitherSwungNorLaidBack_IsWhereItIsPlayed() => Played.Sample(
        gig =>
        {
            var chart = LaidBack(gig.Chart with { Swing = Rational.One }, LayBack.None);
            Assert.All(new Played(chart).Notes, sounded =>
                Assert.Equal((sounded.Note.Onset, Span.Zero), (sounded.Note.Written.Onset, sounded.Note.Written.Late)));
        },
        iter: 60,
        print: gig => gig.Text);

    [Fact]
    public void Written_TuneLaidBack_IsWrittenAsBefore() => Gen.Select(Played, Gen.Bool).Sample(
        (gig, unit) =>
        {
            var late = new Played(LaidBack(gig.Chart, unit ? LayBack.Unit : LayBack.Half));
            var plain = new Played(LaidBack(gig.Chart, LayBack.None));
            Assert.Equal(WrittenTune.Read(plain.Bars), WrittenTune.Read(late.Bars));
        },
        iter: 60,
        print: gig => gig.ToString()!);

    [Fact]
    public void Written_TuneOfAnyChart_IsReadFromTheBarsAsTheChartHasIt() => Played.Sample(
        gig =>
        {
            var band = new BarComposer(gig.Chart);
            Assert.Equal(WrittenTune.Asked(band), WrittenTune.Read(BarsOf(band)));
        },
        iter: 300,
        print: gig => gig.Text);

    [Fact]
    public void Written_FormBrokenOffOrEndless_IsReadFromTheBarsAsTheChartHasIt() => Gen.Select(InTime, Gen.Int[1, 30], Gen.Bool, Gen.Bool).Sample(
        (gig, bars, rings, countIn) =>
        {
            var band = new BarComposer(gig.Chart, new ComposerOptions { Bars = bars, RingsAfterBars = rings, CountIn = countIn });
            Assert.Equal(WrittenTune.Asked(band), WrittenTune.Read(BarsOf(band)));
        },
        iter: 150,
        print: gig => gig.ToString()!);

    [Fact]
    public void Written_Loop_HasTheChartsWholeValuesAndThePickupOfItsFirstBar() => Gen.Select(InTime, Gen.Int[0, 40], Gen.Int[1, 20]).Sample(
        (gig, first, bars) =>
        {
            var pass = new FormPlan(gig.Chart).BarsInPass;
            var from = first % pass;
            var until = from + 1 + (bars % (pass - from));
            var band = new BarComposer(gig.Chart, new ComposerOptions { Endless = true, Loop = new BarLoop(from, until), CountIn = false });
            Assert.Equal(
                WrittenTune.Asked(band, from, until, leadsOn: true),
                WrittenTune.Read([.. Enumerable.Range(from, until - from).Select(band.BarAt)]));
        },
        iter: 2000,
        print: gig => gig.ToString()!);

    [Fact]
    public void Written_Strokes_AreChordsCountedFromTheLowestNote() => Played.Sample(
        gig =>
        {
            foreach (var bar in new Played(gig.Chart).Bars)
            {
                foreach (var stroke in bar.Notes.Where(note => note.Role == Role.Pulse).GroupBy(note => (note.Part, note.Written.Onset)))
                {
                    var notes = stroke.OrderBy(note => note.Key).ToList();
                    Assert.Equal(
                        notes.Count == 1 ? [null] : Enumerable.Range(1, notes.Count).Select(number => (ChordMember?)new ChordMember(number, notes.Count)),
                        notes.Select(note => note.Written.Chord));
                    Assert.Single(notes.Select(note => (note.Written.Length, note.Stroke, note.Touch)).Distinct());
                }

                Assert.All(bar.Notes.Where(note => note.Written.Chord is not null), note => Assert.True(note.Role is Role.Pulse || bar.Index < 0));
            }
        },
        iter: 60,
        print: gig => gig.Text);

    [Fact]
    public void Written_SustainThatIsJoined_FollowsANoteOfItsVoiceWithoutARest() => Played.Sample(
        gig =>
        {
            var before = new Dictionary<int, (Position End, NoteEvent Note)>();
            foreach (var bar in new Played(LaidBack(gig.Chart, LayBack.Unit)).Form)
            {
                foreach (var note in bar.Notes.Where(note => note.Role == Role.Sustain).OrderBy(note => note.Written.Onset))
                {
                    var written = note.Written;
                    var at = bar.Start + written.Onset;
                    if (written.Join != NoteJoin.None)
                    {
                        var (end, former) = before[written.Voice];
                        Assert.Equal(at, end);
                        Assert.Equal(written.Join == NoteJoin.HeldOn, former.Written.Pitch == written.Pitch);
                        Assert.Equal(written.Join == NoteJoin.HeldOn, former.Key == note.Key);
                    }

                    before[written.Voice] = (at + written.Length, note);
                }
            }
        },
        iter: 100,
        print: gig => gig.Text);

    [Fact]
    public void Written_BassOfAnyChart_LastsUpToTheNextOneOrLess() => Played.Sample(
        gig =>
        {
            var played = new Played(gig.Chart);
            var notes = played.Of(Role.Bass).Where(sounded => sounded.Bar.Index >= 0).ToList();
            Assert.All(notes, sounded => Assert.True(sounded.Note.Written.Length >= sounded.Note.Length || !sounded.Bar.Swing.IsStraight));
            Assert.All(notes.Zip(notes.Skip(1)), pair =>
                Assert.True(pair.First.Bar.Start + pair.First.Note.Written.Onset + pair.First.Note.Written.Length <= pair.Second.Bar.Start + pair.Second.Note.Written.Onset));
        },
        iter: 100,
        print: gig => gig.Text);

    [Fact]
    public void Written_LaidBackByAUnitOverTheBarLine_StandsInTheBarBefore()
    {
        var tune = Tune.Of(
            // A third of the group starts may be late, so that two come first, too short to be.
            [
                new TuneNote(Span.Zero, Span.Of(1, 8), Pitch.Parse("G4"), []),
                new TuneNote(Span.Of(2, 8), Span.Of(1, 8), Pitch.Parse("G4"), []),
                new TuneNote(Span.Of(4, 8), Span.Of(3, 8), Pitch.Parse("Bb4"), []),
            ],
            [[null, null, new Syllable("la", SyllablePlace.Single, 1)]],
            [Span.Of(5, 8), Span.Of(5, 8)]);
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 2+2+1", "Gm", "Gm")) with { Key = Key.Parse("G minor"), Tune = tune }) with
        {
            Parts = [Players.Tune(new TuneSettings { LaidBack = LayBack.Unit, Octaves = 1, Consonants = true })],
        };
        var bars = new Played(chart).Form.ToList();
        var late = Assert.Single(bars[1].Notes, note => note.Written.Ornament is null);
        Assert.Equal(Span.Zero, late.Onset);
        Assert.Equal(
            new WrittenOrigin
            {
                Pitch = Pitch.Parse("Bb5"),
                Onset = Span.Of(-1, 8),
                Length = Span.Of(3, 8),
                Late = Span.Of(1, 8),
                Syllable = new SungSyllable(tune.Verses[0][2]!, 1, 1),
                Tune = new TuneOrigin("A", 0, 2, 1),
            },
            late.Written);
        var mark = Assert.Single(bars[1].Notes, note => note.Written.Ornament is not null);
        Assert.Equal(late.Written with { Length = Span.Zero, Late = Span.Zero, Syllable = null, Ornament = new Ornament(OrnamentKind.HeldConsonant, 1, 1) }, mark.Written);
    }

    [Fact]
    public void Written_GracesAndConsonants_AreNumberedAtTheirNotesPlace()
    {
        var tune = Tune.Of(
            [
                new TuneNote(Span.Zero, Span.Of(1, 4), Pitch.Parse("F#4"), [Pitch.Parse("G4"), Pitch.Parse("A4")]),
                new TuneNote(Span.Of(1, 4), Span.Of(3, 8), Pitch.Parse("G4"), []),
            ],
            [[null, new Syllable("ta", SyllablePlace.Begin, 1)]],
            [Span.Of(5, 8)]);
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 2+3", "D")) with { Key = Key.Parse("D"), Tune = tune }) with
        {
            Parts = [Players.Tune(new TuneSettings { Consonants = true })],
        };
        var written = new Played(chart).Form.Single().Notes.OrderBy(note => note.Onset).ThenBy(note => note.SpreadMicroseconds).Select(note => note.Written).ToList();
        Assert.Equal(["G4", "A4", "F#4", "F#4", "G4"], written.Select(note => note.Pitch.ToString()));
        Assert.Equal(
            [new Ornament(OrnamentKind.Grace, 1, 2), new Ornament(OrnamentKind.Grace, 2, 2), null, new Ornament(OrnamentKind.Consonant, 1, 1), null],
            written.Select(note => note.Ornament));
        Assert.Equal([0, 0, 0, 1, 1], written.Select(note => note.Tune!.Note));
        Assert.Equal([Span.Zero, Span.Zero, Span.Zero, Span.Of(1, 4), Span.Of(1, 4)], written.Select(note => note.Onset));
    }

    [Fact]
    public void Written_HoldOfManyBows_IsOneNoteHeldOn()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am")) with { HoldSeconds = 14 }) with
        {
            Parts = [Players.Sustain(new SustainSettings { Voices = 1 })],
        };
        var written = new Played(chart).Form.Single().Notes.Select(note => note.Written).ToList();
        Assert.Equal([NoteJoin.None, NoteJoin.HeldOn, NoteJoin.HeldOn], written.Select(note => note.Join));
        Assert.Equal(Span.Of(3, 8), written.Aggregate(Span.Zero, (sum, note) => sum + note.Length));
    }

    [Fact]
    public void Written_Bass_IsSpelledByChordKeyAndGoal()
    {
        // An approach to the root of a chord outside the key, in a key without the tones around it. Common practice, no source.
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("4/4 2+2", "Cm/Eb", "Ab7", "G7/B", "Cm")) with { Key = Key.Parse("C minor") }) with
        {
            Parts = [Players.Bass(new BassSettings { Approaches = 0 })],
        };
        var names = new Played(chart).Form.Select(bar => bar.Notes[0].Written.Pitch!.Value.Name.ToString());
        Assert.Equal(["Eb", "Ab", "B", "C"], names);
    }

    private static IReadOnlyList<Bar> BarsOf(BarComposer band) => [.. Enumerable.Range(band.First, band.End!.Value - band.First).Select(band.BarAt)];

    private static Chart LaidBack(Chart chart, LayBack by) => chart with
    {
        Parts = [.. chart.Parts.Select(part => part.Settings switch
        {
            TuneSettings tune => part with { Settings = tune with { LaidBack = by } },
            SustainSettings sustain => part with { Settings = sustain with { LaidBack = by } },
            _ => part,
        })],
    };

    // Verses with words, melismas and notes without a word; own keys; own names.
    private static Chart Worded(Chart chart, Random random)
    {
        string[] keys = ["A minor", "Eb", "F# minor", "D dorian", "Gb"];
        return chart with
        {
            Sections = [.. chart.Sections.Select(section => section with
            {
                Key = random.Next(2) == 0 ? Key.Parse(keys[random.Next(keys.Length)]) : null,
                Tune = section.Tune is not { } tune ? null : Tune.Of(
                    tune.Notes, [.. Enumerable.Range(0, random.Next(4)).Select(_ => Verse(tune.Notes.Count, random))], section.Bars),
            })],
        };
    }

    private static List<Syllable?> Verse(int notes, Random random)
    {
        var verse = new List<Syllable?>();
        while (verse.Count < notes)
        {
            var over = Math.Min(1 + (random.Next(4) == 0 ? random.Next(4) : 0), notes - verse.Count);
            verse.Add(random.Next(5) == 0 ? null : new Syllable("la ma ta a".Split(' ')[random.Next(4)], (SyllablePlace)random.Next(4), over));
            if (verse[^1] is not null)
            {
                verse.AddRange(Enumerable.Repeat<Syllable?>(null, over - 1));
            }
        }

        return verse;
    }
}
