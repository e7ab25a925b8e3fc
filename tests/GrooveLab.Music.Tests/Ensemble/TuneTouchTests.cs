using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Ensemble.Checks;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>The marks on a tune's notes change its sound.</summary>
public sealed class TuneTouchTests
{
    // 240 eighths per minute: an eighth lasts a quarter of a second.
    private static readonly Span Eighth = Span.Of(1, 8);

    // Common practice, no source.
    [Theory]
    [InlineData(MarkKind.Staccato, 1, 2)]
    [InlineData(MarkKind.Staccatissimo, 1, 4)]
    [InlineData(MarkKind.DetachedLegato, 3, 4)]
    [InlineData(MarkKind.StrongAccent, 3, 4)]
    [InlineData(MarkKind.Tenuto, 1, 1)]
    [InlineData(MarkKind.Accent, 1, 1)]
    [InlineData(MarkKind.Fermata, 1, 1)]
    public void Length_OfAMarkedNote_IsItsShareOfTheValue(MarkKind kind, long above, long below)
    {
        var plain = Sung([N(0, 2, 69), N(2, 3, 71)]);
        var marked = Sung([N(0, 2, 69, kind), N(2, 3, 71)]);
        Assert.Equal(plain[0].Note.Length * new Rational(above, below), marked[0].Note.Length);
        Assert.Equal(plain[0].Note.Onset, marked[0].Note.Onset);
        Assert.Equal(plain[1].Note, marked[1].Note);
    }

    [Theory]
    [InlineData(MarkKind.Accent, 14)]
    [InlineData(MarkKind.StrongAccent, 20)]
    [InlineData(MarkKind.SoftAccent, 8)]
    [InlineData(MarkKind.Staccato, 0)]
    public void Velocity_OfAMarkedNote_IsSoMuchLouder(MarkKind kind, int steps)
    {
        var plain = Sung([N(0, 2, 69), N(2, 3, 71)]);
        var marked = Sung([N(0, 2, 69, kind), N(2, 3, 71)]);
        Assert.Equal(plain[0].Note.Velocity + steps, marked[0].Note.Velocity);
        Assert.Equal(plain[1].Note, marked[1].Note);
    }

    [Fact]
    public void Velocity_OfANoteWithSeveralAccents_IsThatOfTheStrongest()
    {
        Mark[] marks = [new(MarkKind.Stress), new(MarkKind.StrongAccent), new(MarkKind.Stress)];
        var one = Sung([N(0, 2, 69, MarkKind.StrongAccent), N(2, 3, 71)]);
        var several = Sung([N(0, 2, 69) with { Marks = [.. marks] }, N(2, 3, 71)]);
        Assert.Equal(one[0].Note.Velocity, several[0].Note.Velocity);
    }

    [Fact]
    public void Tenuto_BeforeAnotherPitch_ReachesIntoIt()
    {
        Assert.Equal([30_000, 0], Sung([N(0, 2, 69, MarkKind.Tenuto), N(2, 3, 71, MarkKind.Tenuto)]).Select(one => one.Note.OverlapMicroseconds));
        Assert.Equal([0, 0], Sung([N(0, 2, 69, MarkKind.Tenuto), N(2, 3, 69)]).Select(one => one.Note.OverlapMicroseconds));
    }

    [Fact]
    public void Breath_AfterALongNote_TakesThreeTenthsOfASecond()
    {
        var notes = Sung([N(0, 4, 69, MarkKind.BreathMark), N(4, 1, 71)]);
        var silence = Tempo.Of(Eighth, 240).Seconds(notes[1].From - notes[0].To);
        Assert.InRange(silence.ToDouble(), 0.3, 0.31);
    }

    [Fact]
    public void Breath_AfterAShortNoteOrBeforeARest_TakesNoMoreThanNeeded()
    {
        var notes = Sung([N(0, 1, 69, MarkKind.BreathMark), N(1, 1, 71, MarkKind.BreathMark), N(4, 1, 72)]);
        Assert.Equal(Eighth / 2, notes[0].Note.Length);
        Assert.Equal(Eighth, notes[1].Note.Length);
    }

    [Fact]
    public void Late_OfASingleNote_DelaysItAndLetsTheOneBeforeGoOn()
    {
        var notes = Sung([N(0, 2, 69), N(2, 2, 71) with { Late = Eighth / 2 }, N(4, 1, 72)]);
        Assert.Equal([Span.Zero, Eighth * new Rational(5, 2), Eighth * 4], notes.Select(one => one.Note.Onset));
        Assert.Equal([Eighth * new Rational(5, 2), Eighth * new Rational(3, 2), Eighth], notes.Select(one => one.Note.Length));
        Assert.Equal([Span.Zero, Eighth / 2, Span.Zero], notes.Select(one => one.Note.Written.Late));
        Assert.Equal(Eighth * 2, notes[1].Note.Written.Onset);
    }

    // At most a quarter of a second, which is an eighth here; at least half of the note's time remains.
    [Fact]
    public void Late_TooMuch_IsBounded()
    {
        Assert.Equal(Eighth * 2, Sung([N(1, 4, 69) with { Late = Eighth * 3 }])[0].Note.Onset);
        Assert.Equal(Eighth * new Rational(3, 2), Sung([N(1, 1, 69) with { Late = Eighth * new Rational(7, 8) }, N(2, 1, 71)])[0].Note.Onset);
    }

    [Fact]
    public void Late_OnTwoBarGroupStartsRunning_IsOnceInTime()
    {
        var notes = Sung([.. Enumerable.Range(0, 4).Select(bar => N(bar * 5, 5, 69) with { Late = Eighth / 2 })], bars: 4, groups: 1);
        Assert.Equal([true, false, true, false], notes.Select(one => one.Note.Written.Late > Span.Zero));
    }

    [Fact]
    public void Late_OfASyllable_HoldsInItsVerseOnly()
    {
        var chart = Song(
            [N(0, 2, 69), N(2, 3, 71)],
            verses: [[Word("la"), Word("lo") with { Late = Eighth }], [Word("da"), Word("do")]]) with
        { Form = [new FormStep(0, 2)] };
        var notes = new Played(chart, Exact).Of(Role.Tune).Where(one => one.Note.Written.Tune is not null).ToList();
        Assert.Equal([Span.Zero, Eighth, Span.Zero, Span.Zero], notes.Select(one => one.Note.Written.Late));
        Assert.Equal(["la", "lo", "da", "do"], notes.Select(one => one.Note.Syllable));
    }

    [Fact]
    public void Dynamics_AndHairpins_ChangeTheLevel()
    {
        var level = Sung([N(0, 1, 69), N(1, 1, 69), N(2, 1, 69), N(3, 1, 69), N(4, 1, 69)]).Select(one => one.Note.Velocity).ToArray();
        var notes = Sung(
            [N(0, 1, 69), N(1, 1, 69), N(2, 1, 69), N(3, 1, 69), N(4, 1, 69)],
            (0, new Mark(MarkKind.Dynamics) { Text = "p" }),
            (1, new Mark(MarkKind.Wedge) { Text = "crescendo", Edge = MarkEdge.Start }),
            (3, new Mark(MarkKind.Wedge) { Text = "crescendo", Edge = MarkEdge.Stop }),
            (3, new Mark(MarkKind.Dynamics) { Text = "f" }),
            (4, new Mark(MarkKind.Dynamics) { Text = "sfz" }));
        Assert.Equal([-16, -16, -3, 9, 9 + 16], notes.Select((one, i) => one.Note.Velocity - level[i]));
    }

    [Fact]
    public void Hairpin_WithoutADynamicAtItsEnd_IsAStep()
    {
        var level = Sung([N(0, 2, 69), N(2, 2, 69), N(4, 1, 69)]).Select(one => one.Note.Velocity).ToArray();
        var notes = Sung(
            [N(0, 2, 69), N(2, 2, 69), N(4, 1, 69)],
            (0, new Mark(MarkKind.Wedge) { Text = "diminuendo", Edge = MarkEdge.Start }),
            (4, new Mark(MarkKind.Wedge) { Text = "diminuendo", Edge = MarkEdge.Stop }));
        Assert.Equal([0, -4, -9], notes.Select((one, i) => one.Note.Velocity - level[i]));
    }

    [Fact]
    public void SecondVoice_WithOnePlayerOfTwoVoices_IsPlayedByThatOne()
    {
        var notes = new Played(TwoVoices([Players.Tune()]), Exact).Of(Role.Tune).Where(one => one.Note.Written.Tune is not null).ToList();
        Assert.Equal([(69, 0), (64, 1), (71, 0), (65, 1)], notes.OrderBy(one => one.From).ThenByDescending(one => one.Note.Key)
            .Select(one => (one.Note.Key, one.Note.Written.Tune!.Line)));
        Assert.Equal(["la", "lo"], notes.Select(one => one.Note.Syllable).OfType<string>());
    }

    [Fact]
    public void SecondVoice_WithTwoPlayers_HasItsOwn()
    {
        var other = Players.Tune() with { Name = "other" };
        var notes = new Played(TwoVoices([Players.Tune(), other]), Exact).Of(Role.Tune).Where(one => one.Note.Written.Tune is not null).ToList();
        Assert.Equal([69, 71], notes.Where(one => one.Note.Part == 0).Select(one => one.Note.Key));
        Assert.Equal([64, 65], notes.Where(one => one.Note.Part == 1).Select(one => one.Note.Key));
    }

    [Fact]
    public void SecondVoice_WithOnePlayerOfOneVoice_IsSilent()
    {
        var whistle = Players.Tune() with { Instrument = Players.Concertina with { Voices = 1 } };
        var notes = new Played(TwoVoices([whistle]), Exact).Of(Role.Tune).Where(one => one.Note.Written.Tune is not null);
        Assert.All(notes, one => Assert.Equal(0, one.Note.Written.Tune!.Line));
    }

    [Fact]
    public void SecondVoice_WithAPickup_BeginsBeforeTheBarLine()
    {
        var chart = TwoVoices([Players.Tune()], pickup: true) with { Form = [new FormStep(0, 2)], Ending = true };
        var low = new Played(chart).Of(Role.Tune).Where(one => one.Note.Written.Tune?.Line == 1).ToList();
        Assert.Equal([-Eighth, Span.Zero, Eighth * 3, Eighth * 4, Eighth * 5, Eighth * 8], low.Select(one => one.From - Position.Zero));
    }

    [Fact]
    public void SecondVoice_OnTheKeyOfTheTune_IsStruckOnce()
    {
        var sheet = Sheet.Bars("5/8 3+2", "Am");
        Span[] lengths = [sheet[0].Meter.Length];
        var tune = new TuneBuilder(lengths)
            .Add("tune", TuneBuilder.Measures([N(0, 2, 69), N(2, 3, 71)], lengths), [])
            .Add("second voice", TuneBuilder.Measures([N(0, 1, 69), N(1, 4, 71)], lengths), [])
            .Made();
        var notes = new Played(Of(Sheet.Section("A", sheet) with { Tune = tune }, [Players.Tune()]), Exact).Of(Role.Tune).Select(one => one.Note);
        Assert.Equal(
            [(69, Span.Zero, Eighth * 2), (71, Eighth, Eighth), (71, Eighth * 2, Eighth * 3)],
            notes.OrderBy(note => note.Onset).Select(note => (note.Key, note.Onset, note.Length)));
    }

    [Fact]
    public void PlayersOf_LinesAndPlayers_AreSharedOut()
    {
        Part[] three = [Players.Tune(), Players.Tune() with { Name = "b" }, Players.Tune() with { Name = "c" }];
        Assert.Equal([0, 1, 2], TunePlayers.PlayersOf(three, null, 0, 0));
        Assert.Equal([0, 2], TunePlayers.PlayersOf(three, null, 0, 1));
        Assert.Equal([1], TunePlayers.PlayersOf(three, null, 1, 1));
        Assert.Equal([0], TunePlayers.PlayersOf(three, null, 3, 3));
        Assert.Equal([2], TunePlayers.PlayersOf(three, [1, 2], 1, 1));
        Assert.Empty(TunePlayers.PlayersOf(three, [], 1, 1));
    }

    // 240 eighths a minute: half of an eighth is 125 ms, and half of a sixteenth 62.5 ms. Common practice, no source.
    [Theory]
    [InlineData(2, 1, new[] { 70_000 })]
    [InlineData(4, 2, new[] { 140_000, 70_000 })]
    [InlineData(2, 2, new[] { 125_000, 62_500 })]
    [InlineData(1, 1, new[] { 62_500 })]
    [InlineData(1, 3, new[] { 62_499, 41_666, 20_833 })]
    public void Graces_AfterAShortNote_TakeHalfOfItAtMost(int sixteenths, int graces, int[] early)
    {
        var before = Eighth * sixteenths / 2;
        var chart = Song(
        [
            new(Span.Zero, before, Pitch.FromMidi(69), []),
            new(before, Eighth, Pitch.FromMidi(71), [.. Enumerable.Repeat(Pitch.FromMidi(72), graces)]),
        ]);
        var notes = new Played(chart, Exact).Of(Role.Tune).Select(one => one.Note).ToList();

        Assert.Equal(early, notes.Where(note => note.IsGrace).Select(note => -note.SpreadMicroseconds));
    }

    [Fact]
    public void Graces_OnTheFirstNoteOfASection_LeaveTheLastOneOfTheSectionBefore()
    {
        var notes = new[] { new TuneNote(Span.Zero, Eighth, Pitch.FromMidi(71), [Pitch.FromMidi(72), Pitch.FromMidi(74)]), N(4, 1, 69) };
        var chart = Song(notes) with { Times = 2 };
        var graces = new Played(chart, Exact).Of(Role.Tune).Where(one => one.Note.IsGrace).Select(one => -one.Note.SpreadMicroseconds);

        Assert.Equal([140_000, 70_000, 125_000, 62_500], graces);
    }

    [Theory]
    [InlineData("la", 90_000, 62_500)]
    [InlineData("to", 45_000, 45_000)]
    public void Consonant_AfterAShortNote_TakesHalfOfItAtMost(string word, int after, int afterShort)
    {
        int Mark(Span before)
        {
            var chart = Song([new(Span.Zero, before, Pitch.FromMidi(69), []), new(before, Eighth, Pitch.FromMidi(71), [])], verses: [[Word("oh"), Word(word)]]);
            var played = new Played(chart with { Parts = [Players.Tune(new TuneSettings { Consonants = true }), Players.Clicks()] }, Exact);
            return -Assert.Single(played.Of(Role.Tune), one => one.Note.IsGrace).Note.SpreadMicroseconds;
        }

        Assert.Equal((after, afterShort), (Mark(Eighth), Mark(Eighth / 2)));
    }

    private static Part Low => Players.Tune() with { Name = "cello", Instrument = Players.Cello, Lowest = 36, Highest = 69 };

    [Fact]
    public void CanPlayTune_WithLines_AsksEachInstrumentForItsOwnLineOnly()
    {
        // The tune is 69 and 71, the second voice 64 and 65; the cello ends at 69.
        var chart = TwoVoices([Players.Tune(), Low]);
        var high = TwoVoices([Low with { Name = "first" }, Players.Tune()]);

        Assert.True(chart.CanPlayTune(chart.Parts[0]));
        Assert.True(chart.CanPlayTune(chart.Parts[1]));
        Assert.False(high.CanPlayTune(high.Parts[0]));
        Assert.Equal((high.Sections[0], 0), Assert.Single(high.LinesBeyond(high.Parts[0])));
        Assert.True(high.CanPlayTune(high.Parts[1]));
    }

    [Theory]
    [InlineData(4, true)]
    [InlineData(5, false)]
    public void CanPlayTune_SecondLineMovedByTheForm_IsThatOfItsOwnInstrument(int up, bool can)
    {
        var chart = TwoVoices([Players.Tune(), Low]) with { Form = [new FormStep(0, 1) { Up = up }] };

        Assert.Equal(can, chart.CanPlayTune(chart.Parts[1]));
        Assert.True(chart.CanPlayTune(chart.Parts[0]));
    }

    // Common practice, no source: a second voice ends on the note of the last chord that is nearest to it.
    [Fact]
    public void Ending_WithASecondVoice_EndsEachLineNearItsOwnLastNote()
    {
        // 71 goes to the root, 69; 65 to the fifth, 64.
        var ending = new Played(TwoVoices([Players.Tune(), Low]) with { Ending = true, EndingChord = ChordSymbol.Parse("Am") }).Bars[^1];

        Assert.Equal([(0, 69), (1, 64)], ending.Notes.Where(note => note.Role == Role.Tune).Select(note => (note.Part, note.Key)));
    }

    [Fact]
    public void Ending_WithTwoVoicesOnOneInstrument_HasBothNotes()
    {
        var ending = new Played(TwoVoices([Players.Tune()]) with { Ending = true, EndingChord = ChordSymbol.Parse("F") }).Bars[^1];

        // 71 is as far from 65 as from 77, and the lower one counts; the second voice, at 65, takes the nearest that is free.
        Assert.Equal([65, 69], ending.Notes.Where(note => note.Role == Role.Tune).Select(note => note.Key).Order());
    }

    [Fact]
    public void Ending_WhoseNearestRootIsOutOfReach_TakesOneInReach()
    {
        var top = Players.Tune() with { Instrument = Players.Concertina with { Highest = 73 } };
        var ending = new Played(Song([N(0, 5, 73)]) with { Parts = [top, Players.Clicks()], Ending = true, EndingChord = ChordSymbol.Parse("D") }).Bars[^1];

        Assert.Equal(62, Assert.Single(ending.Notes, note => note.Role == Role.Tune).Key);
    }

    [Fact]
    public void LeadIn_FirstNoteOutOfReachOfTheSecondPlayer_IsAnOctaveLower()
    {
        var chart = TwoVoices([Players.Tune(), Low]);
        chart = chart.Transposed(chart.Key.IntervalUp(3)) with { Parts = chart.Parts };
        var tones = new Played(chart).Bars[0].Notes.Where(note => note.Role == Role.Tune).Select(note => (note.Part, note.Key));

        Assert.Equal([(0, 72), (1, 60)], tones);
    }

    [Fact]
    public void HeldTwice_LinesThatMeetAsWritten_AreNoFault()
    {
        var sheet = Sheet.Bars("5/8 3+2", "Am");
        Span[] lengths = [sheet[0].Meter.Length];
        var tune = new TuneBuilder(lengths)
            .Add("tune", TuneBuilder.Measures([N(0, 5, 69)], lengths), [])
            .Add("second voice", TuneBuilder.Measures([N(0, 3, 67), N(3, 2, 69)], lengths), [])
            .Made();
        var chart = Of(Sheet.Section("A", sheet) with { Tune = tune }, [Players.Tune(), Players.Tune() with { Name = "second" }]);
        var played = new Played(chart);
        var check = HarmonyChecks.HeldTwice(new BandBars(played.Composer.Band, played.Bars, chart));

        Assert.Equal(2, played.Form.SelectMany(bar => bar.Notes).Count(note => note is { Role: Role.Tune, Key: 69 }));
        Assert.Equal(0, check.Value);
    }

    private static ComposerOptions Exact => new() { CountIn = false };

    private static TuneNote N(int unit, int length, int midi, params MarkKind[] marks) =>
        new(Eighth * unit, Eighth * length, Pitch.FromMidi(midi), []) { Marks = [.. marks.Select(kind => new Mark(kind))] };

    private static Syllable Word(string text) => new(text, SyllablePlace.Single, 1);

    private static Chart Song(
        IReadOnlyList<TuneNote> notes, int bars = 1, int groups = 4, IReadOnlyList<IReadOnlyList<Syllable?>>? verses = null, params (int Unit, Mark Mark)[] dynamics)
    {
        var sheet = Sheet.Bars("5/8 3+2", [.. Enumerable.Repeat("Am", bars)]);
        var tune = Tune.Of(notes, verses ?? [], sheet);
        if (dynamics.Length > 0)
        {
            var part = tune.Written.Parts[0];
            var first = part.Measures[0] with { Marks = [.. dynamics.Select(dynamic => new PlacedMark(Eighth * dynamic.Unit, dynamic.Mark))] };
            tune = new Tune(new WrittenMusic(tune.Written.Measures, [part with { Measures = [first, .. part.Measures.Skip(1)] }]));
        }

        return Of(Sheet.Section("A", sheet, groups) with { Tune = tune }, [Players.Tune()]);
    }

    private static Chart TwoVoices(IReadOnlyList<Part> players, bool pickup = false)
    {
        var sheet = Sheet.Bars("5/8 3+2", "Am");
        Span[] lengths = [sheet[0].Meter.Length];
        TuneNote[] lead = pickup ? [N(-1, 1, 62)] : [];
        var tune = new TuneBuilder(lengths)
            .Add("tune", TuneBuilder.Measures([N(0, 3, 69), N(3, 2, 71)], lengths), [[Word("la"), Word("lo")]])
            .Add("second voice", TuneBuilder.Measures([.. lead, N(0, 3, 64), N(3, 2, 65)], lengths), [])
            .Made();
        return Of(Sheet.Section("A", sheet) with { Tune = tune }, players);
    }

    // Without phrasing, which is added to what the marks say.
    private static Chart Of(Section section, IReadOnlyList<Part> players) => Sheet.Chart(section) with
    {
        Parts = [.. players.Select(player => player with { Settings = new TuneSettings { Phrasing = false } }), Players.Clicks()],
        Looseness = 0,
        Ending = false,
    };

    private static List<Sounded> Sung(IReadOnlyList<TuneNote> notes, params (int Unit, Mark Mark)[] dynamics) =>
        [.. new Played(Song(notes, dynamics: dynamics), Exact).Of(Role.Tune)];

    private static List<Sounded> Sung(IReadOnlyList<TuneNote> notes, int bars, int groups) =>
        [.. new Played(Song(notes, bars, groups), Exact).Of(Role.Tune)];
}
