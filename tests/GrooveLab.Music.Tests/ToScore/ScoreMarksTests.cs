using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Music.ToScore;
using GrooveLab.Music.Wording;
using Xunit;

namespace GrooveLab.Music.Tests.ToScore;

/// <summary>What stands beside the notes of a score: clefs, keys, accidentals, tempi, letters, chords, words, marks. Expectations by hand; common
/// practice, no source.</summary>
public sealed class ScoreMarksTests
{
    private static readonly Instrument Clarinet = new()
    {
        Name = "clarinet",
        Technique = Technique.Breath,
        Lowest = 50,
        Highest = 94,
        Program = 71,
        WrittenC = Pitch.Parse("Bb3"),
    };

    [Theory]
    [InlineData(0, "A")]
    [InlineData(25, "Z")]
    [InlineData(26, "AA")]
    [InlineData(27, "BB")]
    [InlineData(52, "AAA")]
    public void RehearsalLetters_PastZ_AreDoubled(int number, string expected) => Assert.Equal(expected, RehearsalLetters.Of(number));

    [Fact]
    public void Sections_EachPlaying_HasALetterAndItsName()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", "Am", "G")), Sheet.Section("refrain", Sheet.Bars("5/8 3+2", "F")));

        var score = ScoreText.Of(chart with { Form = [new FormStep(0, 2), new FormStep(1, 1)] });

        Assert.Equal(
            ["0 A verse", "2 B verse", "4 C refrain"],
            score.Measures.Select((measure, i) => (measure, i))
                .Where(one => one.measure.Marks.OfType<RehearsalMark>().Any())
                .Select(one => $"{one.i} {one.measure.Marks.OfType<RehearsalMark>().Single().Text} {one.measure.Marks.OfType<WordsMark>().Single().Text}"));
        Assert.Equal("light-heavy", score.Measures[^1].Marks.OfType<BarlineMark>().Single().Style);
    }

    // A minor: G sharp is not in the key. The natural in the next bar is a reminder.
    [Fact]
    public void Accidentals_InAndAfterAMeasure_AreWrittenOnce()
    {
        var score = ScoreText.Tune("4/4", 2, (0, 2, "G#4"), (2, 2, "G#4"), (4, 2, "G4"), (6, 2, "G#5"), (8, 4, "G4"), (12, 4, "G4"));

        Assert.Equal("sharp - natural sharp", score.Accidentals(0));
        Assert.Equal("(natural) -", score.Accidentals(1));
    }

    [Fact]
    public void Transposition_OfAClarinet_MovesNotesAndKey()
    {
        var chart = ScoreText.Chart("4/4", 1, (0, 4, "A4"), (4, 4, "C5"));
        var clarinet = chart.Parts[0] with { Instrument = Clarinet, Lowest = 50, Highest = 94 };

        var score = ScoreText.Of(chart with { Parts = [clarinet, Players.Bass()] });

        Assert.Equal("B4:h D5:h", score.Line(0));
        var transposition = score.Parts[0].Measures[0].Transpositions.Single();
        Assert.Equal((new Rational(-2, 1), -1, null), (transposition.Chromatic, transposition.Diatonic, transposition.Octaves));
        Assert.Equal(
            ["P1 2", "P2 0"],
            score.Measures[0].Marks.OfType<KeyMark>().Select(mark => $"{mark.Where.Single().Part} {mark.Key.Fifths}"));
    }

    [Fact]
    public void Clefs_OfTheHouse_SuitTheInstruments()
    {
        var bouzouki = Players.Pulse() with { Instrument = Players.Bouzouki with { Clefs = [new StaffClef(ClefSign.G, 2, -1)] } };
        var chart = Sheet.Chart(Sheet.Section("verse", [Sheet.Bar("4/4")])) with { Parts = [bouzouki, Players.Bass(), Players.Clicks()] };

        var score = ScoreText.Of(chart);

        Assert.Equal(
            ["treble 8vb", "bass", "percussion"],
            score.Parts.Select(part => part.Measures[0].Clefs.Single().Clef.ToString()));
    }

    [Fact]
    public void TwoStaves_OneInstrument_DivideAtMiddleC()
    {
        var organ = Players.Concertina with { Name = "organ", Lowest = 36, Clefs = [StaffClef.Treble, StaffClef.Bass] };
        var chart = ScoreText.Chart("4/4", 2, (0, 4, "A4"), (4, 4, "A3"), (8, 8, "A4"));

        var score = ScoreText.Of(chart with { Parts = [chart.Parts[0] with { Instrument = organ, Lowest = 36 }] });

        Assert.Equal("A4:h rh | rh A3:h", score.Line(0));
        Assert.Equal("A4:w | R", score.Line(1));
        Assert.Equal([1, 2], score.Parts[0].Measures[0].Clefs.Select(clef => clef.Staff!.Value));
        Assert.Equal(["1", "5"], score.Parts[0].Measures[0].Voices.Select(voice => voice.Name));
    }

    // An eighth lasts 0.25 s: 240 eighths, 80 dotted quarters, 40 bars of six, 48 bars of five a minute.
    [Theory]
    [InlineData("5/8 3+2", FeltLevel.Unit, "in five", "eighth", "240")]
    [InlineData("6/8", FeltLevel.Group, "in two", "dotted quarter", "80")]
    [InlineData("6/8", FeltLevel.Bar, "in one", "dotted half", "40")]
    [InlineData("5/8 3+2", FeltLevel.Bar, "in one", "dotted quarter+quarter", "48")]
    [InlineData("7/8 2+2+3", FeltLevel.Bar, "in one", "quarter+quarter+dotted quarter", "34.3")]
    [InlineData("7/8 2+2+3", FeltLevel.Group, "in three", "eighth", "240")]
    [InlineData("5/8 none", FeltLevel.Bar, "in one", "half+eighth", "48")]
    public void Tempo_AnyFeel_HasItsFeltUnit(string meter, FeltLevel feel, string words, string beat, string perMinute)
    {
        var score = ScoreText.Of(Sheet.Chart(Sheet.Section("verse", Sheet.Bars(meter, "Am", "G")) with { Feel = feel }));

        var sign = Assert.Single(score.Measures.SelectMany(measure => measure.Marks).OfType<TempoSign>());
        var metronome = Assert.Single(sign.Metronomes);
        Assert.Equal([words], sign.Words);
        Assert.Equal(beat, string.Join('+', metronome.Beat!.Tied.Prepend(metronome.Beat.Unit)));
        Assert.Equal(perMinute, metronome.PerMinute);
        Assert.Equal(new Rational(120, 1), sign.SoundQuarters);
    }

    [Fact]
    public void Ramp_ToASlowerTempo_SaysRitAndEndsInATempo()
    {
        var section = Sheet.Section("verse", Sheet.Bars("2/4", "Am", "G", "F", "Am")) with
        {
            Ramps = [new TempoRise(Sheet.Of(1, 8, 120), 2, 3)],
        };

        var signs = ScoreText.Of(Sheet.Chart(section)).Measures.Take(4)
            .Select(measure => string.Join(", ", measure.Marks.OfType<TempoSign>().SelectMany(sign => sign.Words.Concat(sign.Metronomes.Select(one => one.PerMinute!))))).ToList();

        Assert.Equal(["in two, 120", "rit.", "", "in two, 60"], signs);
    }

    [Fact]
    public void Join_BarsEqual_IsAnEquation()
    {
        var chart = Sheet.Chart(
            Sheet.Section("verse", [Sheet.Bar("5/8 3+2")]),
            Sheet.Section("refrain", [Sheet.Bar("3/4")]) with { Join = new TempoJoin(true, Span.Zero, Span.Zero) });

        var metronome = ScoreText.Of(chart).Measures[1].Marks.OfType<TempoSign>().First().Metronomes[0];

        Assert.Equal(
            ("dotted quarter+quarter", "dotted half"),
            (string.Join('+', metronome.Beat!.Tied.Prepend(metronome.Beat.Unit)), metronome.SameAs!.Unit.ToString()));
    }

    [Fact]
    public void Chords_EachChange_StandOverTheTopPart()
    {
        var section = Sheet.Section("verse", [Sheet.Bar("5/8 3+2", "Am G"), Sheet.Bar("5/8 3+2", "G"), Sheet.Bar("5/8 3+2", "D7sus4 E7(b9)"), Sheet.Bar("5/8 3+2", "C/E")]);

        var chords = ScoreText.Of(Sheet.Chart(section)).Measures
            .Select(measure => string.Join(' ', measure.Chords.Select(chord => $"{chord.Chords[0].Root!.Letter}:{chord.Chords[0].Kind}{string.Concat(chord.Chords[0].Degrees.Select(degree => $"({degree.Type} {degree.Alter} {degree.Value})"))}@{chord.At}")))
            .ToList();

        Assert.Equal("A:minor@0 G:major@3/8", chords[0]);
        Assert.Equal("", chords[1]);
        Assert.Equal("D:other@0 E:dominant(add -1 9)@3/8", chords[2]);
        Assert.Equal("C:major@0", chords[3]);
    }

    [Fact]
    public void Words_EachPlaying_HasItsOwnVerse()
    {
        Syllable[] Sung(params string[] words) => [.. words.Select(word => new Syllable(word, SyllablePlace.Single, 1))];
        ChartBar[] bars = [Sheet.Bar("2/4")];
        TuneNote[] notes = [new(Span.Zero, Span.Of(1, 4), Pitch.Parse("A4"), []), new(Span.Of(1, 4), Span.Of(1, 4), Pitch.Parse("B4"), [])];
        var tune = Tune.Of(notes, [Sung("lan", "terns"), Sung("home", "boats")], bars);
        var chart = Sheet.Chart(Sheet.Section("verse", bars) with { Tune = tune }) with { Parts = [Players.Tune()], Form = [new FormStep(0, 2)] };

        var score = ScoreText.Of(chart);

        Assert.Equal(["lan terns", "home boats"], score.Parts[0].Measures.Take(2).Select(measure => string.Join(' ', measure.Voices[0].Events.Select(one => one.Lyrics.Single().Text))));
        Assert.All(score.Parts[0].Measures.Take(2).SelectMany(measure => measure.Voices[0].Events).SelectMany(one => one.Lyrics), lyric => Assert.Equal("1", lyric.Number));
    }

    [Fact]
    public void Pickup_OfTheTune_IsAnUncountedMeasure()
    {
        var score = ScoreText.Tune("5/8 3+2", 1, (-2, 2, "E4"), (0, 5, "A4"));

        Assert.True(score.Measures[0].IsUncounted);
        Assert.Equal(Span.Of(1, 4), score.Measures[0].ActualLength);
        Assert.Equal(("E4:q", "A4:q.~ A4:q"), (score.Line(0), score.Line(1)));
        Assert.Equal("1", score.Measures[1].Number);
    }

    // A pickup of three eighths into 5/8 3+2 begins before the group line, which divides it.
    [Fact]
    public void Pickup_OverAGroupLine_IsSplitThere()
    {
        var score = ScoreText.Tune("5/8 3+2", 1, (-3, 3, "E4"), (0, 5, "A4"));

        Assert.Equal("E4:8~ E4:q", score.Line(0));
    }

    [Fact]
    public void Graces_BeforeANote_AreBeamedTogether()
    {
        ChartBar[] bars = [Sheet.Bar("2/4")];
        var tune = Tune.Of([new(Span.Zero, Span.Of(1, 2), Pitch.Parse("A4"), [Pitch.Parse("G4"), Pitch.Parse("B4")])], [], bars);

        var score = ScoreText.Of(Sheet.Chart(Sheet.Section("verse", bars) with { Tune = tune }) with { Parts = [Players.Tune()] });

        Assert.Equal("(G4:16[) (B4:16]) A4:h", score.Line(0));
    }

    [Fact]
    public void Strokes_OfThePulse_AreMarkedUntilTheyRepeat()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", "Am", "Am", "Am", "Am"))) with { Parts = [Players.Pulse()] };

        var score = ScoreText.Of(chart);

        string Marks(int measure) => string.Join(' ', score.Parts[0].Measures[measure].Voices[0].Events.SelectMany(one => one.Marks).Where(mark => mark.Kind is MarkKind.DownBow or MarkKind.UpBow).Select(mark => mark.Kind));
        Assert.Equal("DownBow UpBow DownBow DownBow UpBow", Marks(0));
        Assert.Equal(("", ""), (Marks(1), Marks(2)));
        Assert.Contains(score.Parts[0].Measures[1].Marks, mark => mark.Mark is { Kind: MarkKind.Words, Text: "sim." });
        Assert.DoesNotContain(score.Parts[0].Measures[2].Marks, mark => mark.Mark.Kind == MarkKind.Words);
    }

    // Felt in two: the strokes between the group starts are damped.
    [Fact]
    public void Damped_Strokes_HaveCrossesForHeads()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", [Sheet.Bar("5/8 3+2")]) with { Feel = FeltLevel.Group }) with { Parts = [Players.Pulse()] };

        var events = ScoreText.Of(chart).Parts[0].Measures[0].Voices[0].Events.OfType<NotesEvent>().ToList();

        Assert.Equal([0, 1, 1, 0, 1], events.Select(notes => notes.Marks.Count(mark => mark.Kind == MarkKind.Notehead) == notes.Notes.Count ? 1 : 0));
    }

    [Fact]
    public void StopTime_Section_SaysSoOverStruckDownbeats()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("5/8 3+2", "Am", "Am")) with { StopTime = true }) with { Parts = [Players.Bass()] };

        var score = ScoreText.Of(chart);

        Assert.Contains(score.Parts[0].Measures[0].Marks, mark => mark.Mark.Text == "stop time");
        Assert.Equal("A1:8 r8 r8 rq", score.Line(0));
    }

    [Fact]
    public void Hold_LastBar_HasAFermata()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("4/4", "Am", "Am")) with { HoldSeconds = 4 }) with { Parts = [Players.Bass()] };

        var score = ScoreText.Of(chart);

        Assert.Contains(score.Parts[0].Measures[1].Voices[0].Events, one => one.Has(MarkKind.Fermata));
        Assert.DoesNotContain(score.Parts[0].Measures[0].Voices[0].Events, one => one.Has(MarkKind.Fermata));
    }

    [Fact]
    public void Count_OfTheBand_IsPercussion()
    {
        var part = Assert.Single(ScoreText.Of(Sheet.Chart(Sheet.Section("verse", [Sheet.Bar("5/8 3+2")]) with { Feel = FeltLevel.Group })).Parts);

        Assert.Equal(
            ["P1-I76 E5", "P1-I77 C5"],
            part.Measures[0].Voices[0].Events.OfType<NotesEvent>().Select(notes => $"{notes.Notes[0].Instruments[0]} {notes.Notes[0].Position!.Value.Letter}{notes.Notes[0].Position!.Value.Octave}"));
        Assert.Equal([37, 75, 76, 77], part.Instruments.Select(instrument => instrument.PercussionKey!.Value));
    }

    [Fact]
    public void Parts_OfTheBand_AreInScoreOrder()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("4/4", "Am"))) with { Parts = Players.Band() };

        Assert.Equal(["tune", "pulse", "roll", "sustain", "bass", "count"], ScoreText.Of(chart).Parts.Select(part => part.Name));
        var one = BandScore.Of(new BarComposer(chart), new BandScoreOptions { Part = "Bass" }, TestContext.Current.CancellationToken);
        Assert.Equal("bass", Assert.Single(one.Parts).Name);
        Assert.Throws<ArgumentException>(() => BandScore.Of(new BarComposer(chart), new BandScoreOptions { Part = "kazoo" }, TestContext.Current.CancellationToken));
        Assert.Throws<ArgumentException>(() => BandScore.Of(new BarComposer(chart, new ComposerOptions { Endless = true }), token: TestContext.Current.CancellationToken));
    }

    [Fact]
    public void Lines_OfASustainThatMoveTogether_AreChords()
    {
        var chart = Sheet.Chart(Sheet.Section("verse", Sheet.Bars("4/4", "Am", "F"))) with { Parts = [Players.Sustain(new SustainSettings { Voices = 2 })] };

        var score = ScoreText.Of(chart);

        Assert.All(score.Parts[0].Measures.Where(measure => measure.Voices.Count == 1), measure => Assert.Contains(measure.Voices[0].Events.OfType<NotesEvent>(), notes => notes.Notes.Count == 2));
    }
}
