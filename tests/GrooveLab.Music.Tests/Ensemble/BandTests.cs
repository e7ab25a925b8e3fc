using CsCheck;
using GrooveLab.Music.Analysis;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>The rules of the roles, checked on every bar of random charts.</summary>
public sealed class BandTests
{
    private const long Charts = 40;

    [Fact]
    public void BarAt_AnyChart_EveryNoteIsWellFormedAndInRange() => Holds(Gigs.All, BandRules.NotesAreSound);

    [Fact]
    public void Pulse_AnyChart_StatesEveryUnitWithStrokesThatRestartInEachGroup() =>
        Holds(Gigs.All, BandRules.PulseStatesEveryUnit, BandRules.PulseStrokesAreTheSameInEveryGroup);

    [Fact]
    public void Roll_AnyChart_IsUnbrokenAndHandsAlternate() => Holds(Gigs.All, BandRules.RollIsUnbroken, BandRules.HandsAlternate, BandRules.RollRingsUntilStruckAgain);

    [Fact]
    public void Roll_SteadyTempo_KeepsToItsStepOrThinsForTheHand() => Holds(Gigs.Steady, BandRules.RollKeepsToItsStepAndTheHand);

    [Fact]
    public void Bass_AnyChart_MarksDownbeatsSparselyInItsRegister() => Holds(
        Gigs.All,
        BandRules.BassHasTheWrittenBassOnDownbeats,
        BandRules.BassIsSparseAndInItsRegister,
        BandRules.BassPlaysChordTones,
        played => BandRules.ClearOfTheTune(played, Role.Bass));

    [Fact]
    public void Sustain_SteadyTempo_NoBowIsLongerThanSixSeconds() => Holds(Gigs.Steady, BandRules.BowsEndInSixSeconds);

    [Fact]
    public void Count_AnyChart_ClicksExactlyOnTheFeltBeats() => Holds(Gigs.All, BandRules.CountClicksOnTheFeltBeats);

    [Fact]
    public void Together_BassAndSustain_KeepOutOfEachOthersWay() => Holds(
        Gigs.All,
        played => BandRules.NoCloseIntervalsBelow(played, Role.Bass, Role.Sustain),
        played => BandRules.NoKeyHeldTwice(played, Role.Bass, Role.Sustain),
        played => BandRules.NoKeyHeldTwice(played, Role.Bass, Role.Pulse),
        played => BandRules.NoKeyHeldTwice(played, Role.Bass, Role.Tune));

    [Fact]
    public void Hands_AnyChart_NoFingerAndNoStringTwice() => Holds(Gigs.All, BandRules.NoFingerTwice, BandRules.NoStringTwice);

    // A long note under a fast tune may have no chord tone clear of all its notes: such notes are rare.
    [Fact]
    public void Together_PulseAndRoll_KeepClearOfTheTune()
    {
        var notes = 0;
        var rubs = 0;
        Gigs.All.Sample(
            gig =>
            {
                var played = new Played(gig.Chart);
                notes += played.Of(Role.Pulse).Count() + played.Of(Role.Roll).Count();
                rubs += BandRules.ClearOfTheTune(played, Role.Pulse).Count() + BandRules.ClearOfTheTune(played, Role.Roll).Count();
            },
            iter: Charts,
            threads: 1);
        Assert.True(rubs <= notes / 2000, $"{rubs} of {notes} notes rub against the tune");
    }

    [Fact]
    public void Together_AnyChart_NothingGrowlsDownLow() => Holds(
        Gigs.All, played => BandRules.NoCloseIntervalsBelow(played, Role.Bass, Role.Sustain, Role.Pulse));

    [Fact]
    public void Together_AnyChart_NoKeyIsHeldTwice() => Holds(
        Gigs.All, played => BandRules.NoKeyHeldTwice(played, Role.Bass, Role.Sustain, Role.Pulse, Role.Tune));

    [Fact]
    public void Ending_AnyChart_IsOneRingingDownbeat() => Holds(Gigs.All, BandRules.EndingIsOneDownbeat);

    [Fact]
    public void LeadIn_AnyChart_GivesChordAndNoteAndCountsThemIn() => Holds(Gigs.All, BandRules.LeadInCountsTheBandIn);

    // More sections than the composer keeps, each bar in another one, so that threads remove some while others ask for them. Repeated, because
    // one attempt does not always meet the moment.
    [Fact]
    public void BarAt_ManyThreadsInManySections_NeverFails()
    {
        var chart = ShortSections(120);
        for (var attempt = 0; attempt < 5; attempt++)
        {
            var shared = new BarComposer(chart);
            Parallel.For(0, 64, new ParallelOptions { MaxDegreeOfParallelism = 16 }, thread =>
            {
                for (var i = 0; i < 60; i++)
                {
                    _ = shared.BarAt(((thread * 37) + (i * 11)) % 120 * 2);
                }
            });
        }
    }

    private static Chart ShortSections(int count) =>
        Sheet.Chart([.. Enumerable.Range(0, count).Select(i => Sheet.Section($"part {i}", Sheet.Bars("5/8 3+2", "Am", "F")))]) with { Parts = Players.Band() };

    [Fact]
    public void BarAt_AnyOrderThreadOrComposer_IsTheSameBar() =>
        Gen.Select(Gigs.All, Gen.Int[1, 1_000_000]).Sample(
            (gig, turn) =>
            {
                var played = new Played(gig.Chart);
                var first = played.Composer.First;
                var order = Enumerable.Range(0, played.Bars.Count).OrderBy(bar => (bar + 1L) * turn % 1_000_003).ToArray();
                var shared = new BarComposer(gig.Chart);
                Parallel.ForEach(order, new ParallelOptions { MaxDegreeOfParallelism = 4 }, bar => AssertSame(played.Bars[bar], shared.BarAt(first + bar)));
                foreach (var bar in order)
                {
                    AssertSame(played.Bars[bar], played.Composer.BarAt(first + bar));
                }

                var lone = order[0];
                AssertSame(played.Bars[lone], new BarComposer(gig.Chart).BarAt(first + lone));
            },
            iter: 20);

    [Fact]
    public void BarAt_ManyRunsAgainAndAgain_AreTheSameBars()
    {
        // More runs than a composer keeps, walked forwards and backwards.
        var chart = Walk("7/8 2+2+3", 2, "Am", "G") with { Times = 20 };
        var played = new Played(chart);
        foreach (var bar in played.Bars.Reverse())
        {
            AssertSame(bar, played.Composer.BarAt(bar.Index));
        }
    }

    [Fact]
    public void Bars_SixOrTwelve_StartWithTheSameSix() =>
        Gigs.All.Sample(
            gig =>
            {
                var six = new Played(gig.Chart, new ComposerOptions { Bars = 6 });
                var twelve = new Played(gig.Chart, new ComposerOptions { Bars = 12 });
                Assert.Equal(7, six.Bars.Count);
                Assert.Equal(13, twelve.Bars.Count);
                for (var bar = 0; bar < 7; bar++)
                {
                    AssertSame(six.Bars[bar], twelve.Bars[bar]);
                }

                var endless = new BarComposer(gig.Chart, new ComposerOptions { Endless = true, CountIn = false });
                Assert.Null(endless.End);
                Assert.Equal(0, endless.First);
                AssertSame(twelve.Bars[12], endless.BarAt(11));
            },
            iter: 20);

    [Fact]
    public void Seed_SameOrOther_GivesTheSameOrOtherMusic()
    {
        var chart = Walk("5/8 3+2", 16, "Am", "F", "G", "E7");
        var here = new Played(chart, new ComposerOptions { Seed = 5 });
        var same = new Played(chart with { Seed = 5 });
        for (var bar = 0; bar < here.Bars.Count; bar++)
        {
            AssertSame(here.Bars[bar], same.Bars[bar]);
        }

        // Not only the human feel differs: the roll also picks other strings.
        string Roll(ulong seed) => string.Join(' ', new Played(chart, new ComposerOptions { Seed = seed }).Of(Role.Roll).Select(sounded => sounded.Note.String));
        Assert.Equal(20, Enumerable.Range(1, 20).Select(seed => Roll((ulong)seed)).Distinct().Count());
    }

    [Fact]
    public void BarAt_OutsideThePiece_Throws()
    {
        var composer = new BarComposer(Walk("5/8 3+2", 4, "Am"));
        Assert.Equal(5, composer.End);
        Assert.True(composer.BarAt(4).IsEnding);
        Assert.Throws<ArgumentOutOfRangeException>(() => composer.BarAt(5));
        Assert.Throws<ArgumentOutOfRangeException>(() => composer.BarAt(-2));
        Assert.Equal(4, new BarComposer(Walk("5/8 3+2", 4, "Am") with { Ending = false }).End);
    }

    // The step of the roll, worked by hand: the longest half of the unit that is a sixteenth or shorter.
    [Theory]
    [InlineData("5/8 3+2", 1, 16)]
    [InlineData("13/16", 1, 16)]
    [InlineData("5/4", 1, 16)]
    [InlineData("7/12", 1, 24)]
    [InlineData("19/8", 1, 16)]
    [InlineData("1/4", 1, 16)]
    [InlineData("64/64", 1, 64)]
    [InlineData("3/2", 1, 16)]
    public void Roll_SlowEnoughForTheHand_GoesInItsStep(string meter, int above, int below)
    {
        var chart = Walk(meter, 4, "Am") with { Tempo = Sheet.Of(above, below, 400) };
        var roll = new Played(chart, new ComposerOptions { CountIn = false, Bars = 4 }).Of(Role.Roll).ToArray();

        Assert.All(roll, sounded => Assert.Equal(Span.Of(above, below), sounded.Note.Written.Length));
        Assert.Equal((long)roll.Length - 1, (roll[^1].From - roll[0].From) / Span.Of(above, below));
    }

    [Fact]
    public void Roll_SixtyFourUndividedUnits_IsCutIntoCellsWithoutTryingEveryWay()
    {
        var bar = new BarComposer(Walk("64/8", 2, "Am")).BarAt(0);

        Assert.Equal(128, bar.Notes.Count(note => note.Role == Role.Roll));
    }

    [Fact]
    public void Roll_FasterThanTheHand_ThinsInsideItsGroupsAndSaysSo()
    {
        // Sixteenths of 60 ms under a limit of 85: eighths of 120 ms.
        var bar = new BarComposer(Walk("5/8 3+2", 4, "Am") with { Tempo = Sheet.Of(1, 16, 1000) }).BarAt(0);

        Assert.Equal(
            new[] { 0, 1, 2, 3, 4 }.Select(unit => Span.Of(unit, 8)), bar.Notes.Where(note => note.Role == Role.Roll).Select(note => note.Onset));
        Assert.Contains("a roll of sixteenths would come every 60 ms", Assert.Single(bar.Remarks), StringComparison.Ordinal);
        Assert.Contains("eighths instead", bar.Remarks[0], StringComparison.Ordinal);
    }

    [Fact]
    public void Roll_FingersInOneMeter_TakeNoFingerTwice()
    {
        foreach (var meter in new[] { "5/8 3+2", "5/8 2+3", "5/8", "7/8 2+2+3", "9/8 (2+2)+(2+3)", "13/16", "7/12", "4/4", "6/8", "5/4" })
        {
            foreach (var crossing in Enum.GetValues<Crossing>())
            {
                var chart = Walk(meter, 16, "Am", "F", "G", "E7") with
                {
                    Parts = [Players.Pulse(), Players.Roll(Players.Banjo, new RollSettings { Crossing = crossing }), Players.Clicks()],
                };
                var played = new Played(chart with { Times = 3 });
                Assert.Empty(BandRules.NoFingerTwice(played).Select(broken => $"{meter} {crossing}: {broken}"));
            }
        }
    }

    [Fact]
    public void Roll_FingersOnOneChord_TakeNoStringTwice()
    {
        foreach (var meter in new[] { "5/8 3+2", "7/8 2+2+3", "13/16", "7/12", "4/4" })
        {
            foreach (var banjo in new[] { Players.Banjo, Players.Guitar })
            {
                var chart = Walk(meter, 16, "Am") with { Parts = [Players.Pulse(), Players.Roll(banjo), Players.Clicks()] };
                Assert.Empty(BandRules.NoStringTwice(new Played(chart, new ComposerOptions { Bars = 16 })));
            }
        }
    }

    [Fact]
    public void Roll_ThirtyTwoBarsOfOneChord_HasFourPatternsAtLeastAndNoneThriceRunning()
    {
        for (var seed = 1UL; seed <= 10; seed++)
        {
            var played = new Played(Walk("5/8 3+2", 32, "Am") with { Seed = seed, Looseness = 0 }, new ComposerOptions { Bars = 32, CountIn = false });
            var patterns = played.Bars
                .Select(bar => string.Join(' ', bar.Notes.Where(note => note.Role == Role.Roll).Select(note => note.Key))).ToArray();
            Assert.True(patterns.Distinct().Count() >= 4, $"seed {seed}: {patterns.Distinct().Count()} patterns");
            for (var bar = 2; bar < patterns.Length; bar++)
            {
                Assert.False(
                    string.Equals(patterns[bar], patterns[bar - 1], StringComparison.Ordinal)
                    && string.Equals(patterns[bar], patterns[bar - 2], StringComparison.Ordinal),
                    $"seed {seed}: bar {bar} is the third of its kind");
            }
        }
    }

    [Fact]
    public void Bass_SlashChord_HasItsWrittenBass()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 3+2", "Gm7 Cm/Eb", "Cm/Eb", "Am/G", "C/E"))) with { Parts = Players.Band() };
        var bars = new Played(chart, new ComposerOptions { Bars = 4, CountIn = false }).Bars;

        Assert.Equal(
            [("G", 0), ("Eb", 3), ("Eb", 0), ("G", 0), ("E", 0)],
            new[] { (0, 0), (0, 3), (1, 0), (2, 0), (3, 0) }.Select(place => (
                PitchName.FromPitchClass(
                    bars[place.Item1].Notes.Single(note => note.Role == Role.Bass && note.Onset == Span.Of(place.Item2, 8)).Key % 12, flats: true).ToString(),
                place.Item2)));
    }

    [Fact]
    public void Bass_UndividedThirteenSixteenths_NeverLosesItsDownbeat()
    {
        // A light last sixteenth would be less than an eighth before the bar line.
        var chart = Walk("13/16", 8, "Am", "G") with { Feel = FeltLevel.Unit };

        Assert.Empty(BandRules.BassHasTheWrittenBassOnDownbeats(new Played(chart)));
    }

    [Fact]
    public void Sustain_AloneWithOneVoice_KeepsToneOrMovesByStepAlmostAlways()
    {
        var names = new[] { "Am", "F", "C", "Em7", "G", "D7sus4", "Dm7", "Bbmaj7", "Gm7", "C/E", "Am" };
        var chart = Walk("5/8 3+2", 44, names) with { Parts = [Players.Sustain(new SustainSettings { Voices = 1 }), Players.Clicks()] };
        var notes = new Played(chart, new ComposerOptions { Bars = 44, CountIn = false }).Of(Role.Sustain).ToArray();

        var far = notes.Zip(notes.Skip(1)).Count(pair => Math.Abs(pair.First.Note.Key - pair.Second.Note.Key) > 2);
        Assert.True(far <= notes.Length / 10, $"{far} of {notes.Length}");
    }

    [Fact]
    public void Sustain_ChartsOfEightBars_HoldsLongerThanAnyone()
    {
        foreach (var meter in new[] { "5/8 3+2", "7/8 2+2+3", "13/16", "7/12", "4/4", "6/8", "5/4" })
        {
            foreach (var felt in Enum.GetValues<FeltLevel>())
            {
                var played = new Played(Walk(meter, 16, "Am", "F", "G", "E7") with { Feel = felt });
                double Mean(Role role) => played.Of(role).Where(sounded => sounded.Bar.Index >= 0 && !sounded.Bar.IsEnding)
                    .Average(sounded => BandRules.Seconds(played, sounded));
                foreach (var role in new[] { Role.Pulse, Role.Roll, Role.Bass })
                {
                    Assert.True(Mean(Role.Sustain) > Mean(role), $"{meter} felt as {felt.Name()}: {role.Name()} {Mean(role):0.00} s, sustain {Mean(Role.Sustain):0.00} s");
                }
            }
        }
    }

    [Fact]
    public void GroupStarts_ManyCharts_AreChordTonesAlmostAlways()
    {
        var (of, all) = (0, 0);
        foreach (var meter in new[] { "5/8 3+2", "7/8 2+2+3", "9/8 (2+2)+(2+3)", "4/4", "6/8" })
        {
            foreach (var bar in new Played(Walk(meter, 32, "Am", "F", "G", "E7", "Dm7", "Bm7b5")).Form)
            {
                foreach (var note in bar.Notes.Where(note => note.Role is not (Role.Count or Role.Tune)))
                {
                    var unit = note.Onset / bar.Meter.Unit;
                    if (unit.IsInteger && bar.Meter.GroupStartUnits.Contains((int)unit.Numerator))
                    {
                        var chord = bar.Chords[0].Symbol;
                        all++;
                        of += chord.Tones.Contains(note.Key) || note.Key % 12 == chord.Bass.PitchClass ? 1 : 0;
                    }
                }
            }
        }

        Assert.True(all > 1000 && of >= 0.95 * all, $"{of} of {all}");
    }

    // Rasch 1979: ensembles differ by 30 to 50 ms; each part stays well within that, the roll has the least, the sustain the most.
    [Fact]
    public void HumanFeel_FourHundredBars_IsBoundedAndLeansLittleByPlace()
    {
        var chart = Walk("5/8 3+2", 400, "Am", "F", "G", "E7");
        var played = new Played(chart, new ComposerOptions { Bars = 400, CountIn = false });
        foreach (var (role, deviation, lean) in new[] { (Role.Pulse, 7.5, 0.0), (Role.Roll, 6.5, 0.0), (Role.Bass, 7.0, 2.0), (Role.Sustain, 10.5, 0.0) })
        {
            var notes = played.Of(role).Select(sounded => sounded.Note).ToArray();
            var ms = notes.Select(note => note.OffsetMicroseconds / 1000.0).ToArray();
            Assert.All(ms, offset => Assert.InRange(offset, lean - (3 * deviation), lean + (3 * deviation)));
            var mean = ms.Average();
            var spread = Math.Sqrt(ms.Average(offset => (offset - mean) * (offset - mean)));
            Assert.InRange(spread, 2, deviation);
            foreach (var place in notes.GroupBy(note => note.Onset).Where(place => place.Count() >= 100))
            {
                Assert.InRange(place.Average(note => note.OffsetMicroseconds) / 1000, lean - 5, lean + 5);
            }
        }

        Assert.All(played.Of(Role.Count), sounded => Assert.Equal(0, sounded.Note.OffsetMicroseconds));
    }

    // The project's limits: 4 to 7 ms from note to note in pulse and roll, about a drift that neighbours share.
    [Fact]
    public void HumanFeel_PulseAndRoll_DeviateFromNoteToNoteAboutASlowDrift()
    {
        var played = new Played(Walk("7/8 2+2+3", 400, "Am", "F", "G", "E7"), new ComposerOptions { Bars = 400, CountIn = false });
        foreach (var role in new[] { Role.Pulse, Role.Roll })
        {
            var ms = played.Of(role).GroupBy(sounded => sounded.From).Select(stroke => stroke.First().Note.OffsetMicroseconds / 1000.0).ToArray();
            var successive = Statistics.Deviation([.. ms.Zip(ms.Skip(1), (one, next) => next - one)]);
            Assert.InRange(successive, 4, 7);
            // Of notes a bar apart the drift is the same, and the deviations are not.
            Assert.InRange(Statistics.Correlation(ms[..^7], ms[7..]), 0.15, 0.8);
        }
    }

    [Fact]
    public void HumanFeel_MeansByPlace_StayThroughThePieceAndDifferBySeed()
    {
        double[] Means(ulong seed, int from) =>
        [
            .. new Played(Walk("7/8 2+2+3", 600, "Am") with { Seed = seed }, new ComposerOptions { Bars = 600, CountIn = false }).Of(Role.Pulse)
                .Where(sounded => sounded.Bar.Index >= from && sounded.Bar.Index < from + 300).GroupBy(sounded => sounded.Note.Onset).OrderBy(place => place.Key)
                .Select(place => place.Average(sounded => sounded.Note.OffsetMicroseconds / 1000.0)),
        ];

        var (first, second, other) = (Means(4, 0), Means(4, 300), Means(5, 0));
        Assert.True(Statistics.Correlation(first, second) > 0.6, $"{string.Join(' ', first)}; {string.Join(' ', second)}");
        Assert.True(Statistics.Correlation(first, other) < 0.6);
    }

    [Fact]
    public void HumanFeel_LoosenessZero_IsNone() =>
        Gigs.All.Sample(
            gig =>
            {
                var played = new Played(gig.Chart with { Looseness = 0 });
                Assert.All(played.Notes, sounded => Assert.Equal(0, sounded.Note.OffsetMicroseconds));
                Assert.All(played.Bars.SelectMany(bar => bar.Controls), control => Assert.Equal(0, control.OffsetMicroseconds));
            },
            iter: 15);

    [Fact]
    public void FeltLevel_Moved_TakesNoOnsetOfPulseOrRollAway()
    {
        var chart = Walk("7/8 2+2+3", 8, "Am", "G");
        IEnumerable<Position> Onsets(FeltLevel felt, Role role) =>
            new Played(chart with { Feel = felt }).Of(role).Where(sounded => sounded.Bar.Index >= 0).Select(sounded => sounded.From).Distinct();
        foreach (var role in new[] { Role.Pulse, Role.Roll })
        {
            foreach (var felt in Enum.GetValues<FeltLevel>())
            {
                Assert.Equal(Onsets(FeltLevel.Unit, role), Onsets(felt, role));
            }
        }
    }

    [Fact]
    public void Tune_WithVersesAndPickup_IsPlayedAsWritten()
    {
        var bars = Sheet.Bars("5/8 3+2", "Am", "G");
        var tune = Tune.Of(
            [
                new TuneNote(Span.Of(-1, 8), Span.Of(1, 8), Pitch.Parse("E4"), []),
                new TuneNote(Span.Zero, Span.Of(3, 8), Pitch.Parse("A4"), []),
                new TuneNote(Span.Of(5, 8), Span.Of(3, 8), Pitch.Parse("G4"), []),
            ],
            [
                [new Syllable("the", SyllablePlace.Single, 1), new Syllable("ri", SyllablePlace.Begin, 1), new Syllable("ver", SyllablePlace.End, 1)],
                [new Syllable("a", SyllablePlace.Single, 1), new Syllable("moun", SyllablePlace.Begin, 1), new Syllable("tain", SyllablePlace.End, 1)],
            ],
            bars);
        var section = Sheet.Section("A", bars) with { Tune = tune };
        var played = new Played(Sheet.Chart(section) with { Parts = [Players.Tune(), Players.Clicks()], Form = [new FormStep(0, 2)] });

        // The starting note, the pickup, the first verse with the second's pickup, the second verse; then the last root.
        Assert.Equal(
            ["64 -", "64 the", "69 ri-", "67 ver", "64 a", "69 moun-", "67 tain", "69 -"],
            played.Of(Role.Tune).Select(sounded => $"{sounded.Note.Key} {sounded.Note.Syllable ?? "-"}"));
        Assert.Equal(
            [Span.Of(-1, 8), Span.Zero, Span.Of(5, 8), Span.Of(9, 8), Span.Of(10, 8), Span.Of(15, 8)],
            played.Of(Role.Tune).Skip(1).SkipLast(1).Select(sounded => sounded.From - Position.Zero));
    }

    // Once a bug: the roll counted on the whole bar group.
    [Fact]
    public void BarAt_LoopThatTurnsBackInsideABarGroup_HasARollThatLands()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am", "G", "F", "E7"), 4)) with
        {
            Parts = [Players.Roll(settings: new RollSettings { Crossing = Crossing.Land })],
        };
        var band = new BarComposer(chart, new ComposerOptions { Endless = true, Loop = new BarLoop(1, 3) });
        Assert.Equal([10, 10], new[] { band.BarAt(1), band.BarAt(2) }.Select(bar => bar.Notes.Count));
    }

    private static void Holds(Gen<Gig> gigs, params Func<Played, IEnumerable<string>>[] rules) =>
        gigs.Sample(
            gig =>
            {
                var played = new Played(gig.Chart);
                foreach (var rule in rules)
                {
                    Assert.Empty(rule(played).Take(3));
                }
            },
            iter: Charts);

    private static Chart Walk(string meter, int bars, params string[] chords) =>
        Sheet.Chart(Sheet.Section("A", [.. Enumerable.Range(0, bars).Select(bar => Sheet.Bar(meter, chords[bar % chords.Length]))])) with
        {
            Parts = Players.Band(),
        };

    private static void AssertSame(Bar wanted, Bar got)
    {
        Assert.Equal(
            (wanted.Index, wanted.Start, wanted.Length, wanted.Meter, wanted.Felt, wanted.GroupPlace, wanted.Section, wanted.IndexInSection, wanted.IsEnding),
            (got.Index, got.Start, got.Length, got.Meter, got.Felt, got.GroupPlace, got.Section, got.IndexInSection, got.IsEnding));
        Assert.Equal(wanted.Tempi, got.Tempi);
        Assert.Equal(wanted.Chords, got.Chords);
        Assert.Equal(wanted.Notes, got.Notes);
        Assert.Equal(wanted.Controls, got.Controls);
        Assert.Equal(wanted.Remarks, got.Remarks);
    }
}
