using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>Breaks, holds and tags. Common practice, no source, except for arithmetic.</summary>
public sealed class StopTests
{
    private static readonly Role[] Stopping = [Role.Pulse, Role.Roll, Role.Bass, Role.Sustain];

    [Theory]
    [InlineData("5/8 3+2", 1)]
    [InlineData("7/8 2+2+3", 2)]
    [InlineData("4/4 2+2", 4)]
    [InlineData("13/16 3+3+2+3+2", 3)]
    public void Break_LastBars_AreStruckOnceAndLeftToTuneAndCount(string meter, int bars)
    {
        var played = new Played(Song(meter, section => section with { BreakBars = bars }));
        var starts = played.Form.Where(bar => bar.Stop == BandStop.Strike).ToArray();

        Assert.Equal([4 - bars, 8 - bars], starts.Select(bar => bar.Index));
        Assert.Equal(2 * (bars - 1), played.Form.Count(bar => bar.Stop == BandStop.Rest));
        foreach (var start in starts)
        {
            var struck = start.Notes.Where(note => Stopping.Contains(note.Role)).ToArray();
            Assert.Contains(struck, note => note.Role == Role.Pulse);
            Assert.Contains(struck, note => note.Role == Role.Bass);
            Assert.All(struck, note => Assert.Equal(Span.Zero, note.Onset));
            var end = start.Start + start.Meter.Unit;
            var last = start.Start + (start.Meter.Length * bars);
            Assert.DoesNotContain(played.Notes, sounded => Stopping.Contains(sounded.Note.Role) && !sounded.Bar.IsEnding && sounded.To > end && sounded.From < last);
            Assert.DoesNotContain(played.Notes, sounded => Stopping.Contains(sounded.Note.Role) && sounded.From < start.Start && sounded.To > start.Start);
        }

        Assert.All(played.Form, bar => Assert.Contains(bar.Notes, note => note.Role == Role.Count));
        Assert.All(played.Form, bar => Assert.Contains(bar.Notes, note => note.Role == Role.Tune));
    }

    [Theory]
    [InlineData("5/8 3+2", 1)]
    [InlineData("5/8 3+2", 7)]
    [InlineData("7/8 2+2+3", 10)]
    [InlineData("13/16 3+3+2+3+2", 60)]
    public void Drone_BeforeTheCount_SoundsExactlyItsSeconds(string meter, int seconds)
    {
        var song = Song(meter, section => section);
        var plain = new BarComposer(song).BarAt(-1);
        var lead = new BarComposer(song with { DroneSeconds = seconds }).BarAt(-1);
        var longer = lead.Length - plain.Length;
        var drones = lead.Notes.Where(note => note.Onset == Span.Zero).ToArray();

        Assert.NotEmpty(drones);
        Assert.All(drones, note => Assert.Equal(longer, note.Length));
        Assert.Equal(new Rational(seconds, 1), lead.Tempi[0].Tempo.Seconds(longer));
        Assert.Equal(plain.Tempi[0].Tempo, lead.Tempi[^1].Tempo);
        Assert.Equal(plain.Notes.Count + drones.Length, lead.Notes.Count);
    }

    [Theory]
    [InlineData("5/8 3+2", 3, 3)]
    [InlineData("7/8 2+2+3", 9, 4)]
    [InlineData("5/8 none", 4, 3)]
    [InlineData("1/4 none", 2, 1)]
    [InlineData("5/4 2+2+1", 2, 3)]
    public void Hold_LastBar_SoundsSoManySeconds_ThenTheCountLeadsOnInTime(string meter, int seconds, int unitsHeld)
    {
        var chart = Song(meter, section => section with { HoldSeconds = seconds });
        var played = new Played(chart);
        foreach (var bar in played.Form.Where(bar => bar.Index % 4 == 3))
        {
            Assert.Equal(BandStop.Hold, bar.Stop);
            var held = bar.Meter.Unit * unitsHeld;
            Assert.Equal(new Rational(seconds, 1), bar.Tempi[0].Tempo.Seconds(held));
            if (held < bar.Length)
            {
                Assert.Equal((held, played.Form.First().Tempi[0].Tempo), bar.Tempi[1]);
            }

            var notes = bar.Notes.Where(note => Stopping.Contains(note.Role)).ToArray();
            Assert.Equal(Stopping, notes.Select(note => note.Role).Distinct().Order());
            Assert.All(notes, note => Assert.True(note.End <= held));
            Assert.All(notes.Where(note => note.Role != Role.Sustain), note => Assert.Equal((Span.Zero, held), (note.Onset, note.Length)));
            // No bow is longer than six seconds.
            Assert.All(notes.Where(note => note.Role == Role.Sustain), note => Assert.True(bar.Tempi[0].Tempo.Seconds(note.Length) <= 6));
            Assert.Equal(
                Enumerable.Range(unitsHeld, bar.Meter.Units - unitsHeld).Select(unit => bar.Meter.Unit * unit),
                bar.Notes.Where(note => note.Role == Role.Count).Select(note => note.Onset));
        }

        Assert.All(played.Form.Where(bar => bar.Index % 4 != 3), bar => Assert.Equal(BandStop.None, bar.Stop));
    }

    [Fact]
    public void Tag_AfterTheLastTime_IsPlayedOnceMoreWithItsNextVerse()
    {
        var chart = Song("5/8 3+2", section => section) with { Times = 3, Tag = [new FormStep(1, 2)] };
        var plan = new FormPlan(chart);

        // Two sections of four bars, three times, and the second twice more.
        Assert.Equal((3 * 8) + 8, plan.Bars);
        Assert.Equal(["b", "b", "b", "b", "b", "b", "b", "b"], Enumerable.Range(24, 8).Select(bar => plan.BarAt(bar).Run.Section.Name));
        Assert.Equal([3, 4], new[] { 24, 28 }.Select(bar => plan.BarAt(bar).Run.Verse));
        Assert.Equal(Enumerable.Range(0, 32).Select(bar => Position.Zero + (Span.Of(5, 8) * bar)), Enumerable.Range(0, 32).Select(bar => plan.BarAt(bar).Start));
        Assert.Equal(Enumerable.Range(0, 8), Enumerable.Range(0, 8).Select(run => RunAt(plan, run).Number));
        Assert.Equal([0, 4, 8, 12, 16, 20, 24, 28], Enumerable.Range(0, 8).Select(run => RunAt(plan, run).FirstBar));

        var bars = new Played(chart).Bars;
        Assert.True(bars[^1].IsEnding);
        Assert.Equal(32, bars[^1].Index);
        // A form that repeats without end has no place for a tag.
        Assert.Equal("a", new BarComposer(chart, new ComposerOptions { Bars = 40 }).BarAt(24).Section);
    }

    [Theory]
    [InlineData("lan", Consonant.Held)]
    [InlineData("Shore", Consonant.Held)]
    [InlineData("(“tide", Consonant.Stopped)]
    [InlineData("Ébb", Consonant.None)]
    [InlineData("har", Consonant.None)]
    [InlineData("over", Consonant.None)]
    [InlineData("μή", Consonant.Held)]
    [InlineData("12", Consonant.None)]
    [InlineData(null, Consonant.None)]
    public void Consonant_OfASyllable_IsWhatItBeginsWith(string? syllable, Consonant begins) => Assert.Equal(begins, Consonants.Of(syllable));

    [Fact]
    public void Consonants_OfWords_AreMarkedBeforeTheBeat()
    {
        var plain = Tuned(new TuneSettings());
        var marked = Tuned(new TuneSettings { Consonants = true });

        Assert.DoesNotContain(plain, note => note.Note.SpreadMicroseconds < 0);
        var vowels = marked.Where(note => note.Note.SpreadMicroseconds == 0).ToArray();
        Assert.Equal(plain.Select(note => (note.From, note.Note.Key)), vowels.Select(note => (note.From, note.Note.Key)));
        var marks = marked.Where(note => note.Note.SpreadMicroseconds < 0).ToArray();
        // "Tide", "lan" and "me" begin with consonants, "over" and "I" do not.
        Assert.Equal(vowels.Where(note => note.Note.Syllable is "Tide" or "lan-" or "me").Select(note => note.From), marks.Select(note => note.From));
        Assert.All(marks, mark => Assert.InRange(mark.Note.SpreadMicroseconds, -90_000, -45_000));
        Assert.True(marks.Min(mark => mark.Note.SpreadMicroseconds) < marks.Max(mark => mark.Note.SpreadMicroseconds));
    }

    [Fact]
    public void LaidBack_Tune_ComesLateByWrittenUnits_WithHeldConsonantsOnTheBeat()
    {
        var plain = Tuned(new TuneSettings());
        var late = Tuned(new TuneSettings { LaidBack = LayBack.Half, Consonants = true }).Where(note => note.Note.SpreadMicroseconds == 0).ToArray();
        var sung = late.Where(note => note.Note.Syllable is not null).ToArray();
        var half = Span.Of(1, 16);

        Assert.Equal(plain.Count(note => note.Note.Syllable is not null), sung.Length);
        var shifts = plain.Where(note => note.Note.Syllable is not null).Zip(sung, (before, after) => after.From - before.From).ToArray();
        Assert.All(shifts, shift => Assert.True(shift == Span.Zero || shift == half));
        Assert.Contains(half, shifts);
        // Never on two consecutive bar group starts.
        var opens = plain.Where(note => note.Note.Syllable is not null).Zip(shifts).Where(pair => pair.First.Bar.GroupPlace.IsFirst && pair.First.Note.Onset == Span.Zero).Select(pair => pair.Second).ToArray();
        Assert.True(opens.Length > 2);
        Assert.DoesNotContain(opens.Zip(opens.Skip(1)), pair => pair.First > Span.Zero && pair.Second > Span.Zero);
        // The consonant keeps the beat, no longer than a quarter of a second.
        var marks = late.Where(note => note.Note.Syllable is null && plain.All(other => other.Note.Syllable is not null || other.From != note.From)).ToArray();
        Assert.NotEmpty(marks);
        Assert.All(marks, mark => Assert.Contains(sung, note => note.From - mark.From == half && note.Note.Key == mark.Note.Key && mark.To <= note.From));
    }

    [Fact]
    public void Hold_ShorterThanInTime_LastsAsLongAsInTime()
    {
        // At quarter = 60 the held part, all groups but the last, lasts two seconds without a hold; a shorter hold has no effect.
        var chart = Song("4/4 2+2", section => section with { HoldSeconds = 1 }) with { Tempo = Sheet.Of(1, 4, 60) };
        var bar = new FormPlan(chart).BarAt(3);
        Assert.Equal(new Rational(2, 1), bar.Tempi[0].Tempo.Seconds(bar.HeldFor));
    }

    [Fact]
    public void Hold_BeforeALongPickup_IsOverWhenThePickupComes()
    {
        var chart = Song("5/8 3+2", section => section with { HoldSeconds = 9 });
        var pickup = new TuneNote(-Span.Of(5, 16), Span.Of(5, 16), Pitch.FromMidi(69), []);
        chart = chart with
        {
            Sections = [chart.Sections[0], WithPickup(chart.Sections[1], pickup)],
        };
        var played = new Played(chart);
        var bar = played.Plan.BarAt(3);
        Assert.Equal(Span.Of(5, 16), bar.HeldFor);
        Assert.Equal(new Rational(9, 1), bar.Tempi[0].Tempo.Seconds(bar.HeldFor));
        Assert.Contains(played.Of(Role.Tune), note => note.Bar.Index == 3 && note.Note.Onset == Span.Of(5, 16) && note.Note.Key == 69);
    }

    [Fact]
    public void Pickup_IntoASectionWithTheTune_IsPlayedThoughTheTuneRestsBefore()
    {
        var chart = Song("5/8 3+2", section => section);
        var pickup = new TuneNote(-Span.Of(1, 8), Span.Of(1, 8), Pitch.FromMidi(69), []);
        var sung = WithPickup(chart.Sections[1], pickup);
        var alone = chart.Sections[0] with { Playing = [0] };

        var before = new Played(chart with { Sections = [alone, sung] }).Of(Role.Tune).Where(note => note.Bar.Index is >= 0 and < 4).ToArray();
        Assert.Equal((3, Span.Of(1, 2), 69), (before.Single().Bar.Index, before.Single().Note.Onset, before.Single().Note.Key));
        // In the opposite case no part can play it.
        Assert.DoesNotContain(new Played(chart with { Sections = [chart.Sections[0], sung with { Playing = [0] }] }).Of(Role.Tune), note => note.Note.Key == 69 && note.Bar.Index == 3);
    }

    [Fact]
    public void LeadIn_BeforeASingerAlone_GivesChordAndNote()
    {
        var chart = Song("5/8 3+2", section => section);
        var played = new Played(chart with { Sections = [chart.Sections[0] with { Playing = [] }, chart.Sections[1]] });
        var tones = played.Bars[0].Notes.Where(note => note.Role != Role.Count).ToArray();

        Assert.Contains(tones, note => note.Role == Role.Tune && note.Key == 76);
        // Root, third and fifth of A minor.
        Assert.Equal([0, 4, 9], tones.Select(note => note.Key % 12).Distinct().Order());
        // Only the clicks: no silent bars before them.
        var clicks = new Played(chart with { Parts = [Players.Clicks()] });
        Assert.Equal(Span.Zero, clicks.Bars[0].Notes[0].Onset);
    }

    [Fact]
    public void Ending_AfterASectionOfFew_IsEveryones()
    {
        var chart = Song("5/8 3+2", section => section);
        var ending = new Played(chart with { Sections = [chart.Sections[0], chart.Sections[1] with { Playing = [] }] }).Bars[^1];
        Assert.Equal(Stopping, ending.Notes.Select(note => note.Role).Where(Stopping.Contains).Distinct().Order());
    }

    [Fact]
    public void Transposed_OutOfReach_TheTuneGoesToTheNearestOctave()
    {
        var chart = Song("5/8 3+2", section => section) with { Parts = [Players.Tune()] };
        // 76 to 73 on an instrument that ends at 96: up two octaves and a third is out of reach, an octave lower is in reach.
        var moved = chart.Transposed(chart.Key.IntervalUp(22));
        Assert.Equal(-1, ((TuneSettings)moved.Parts[0].Settings).Octaves);
        Assert.True(moved.CanPlayTune(moved.Parts[0]));
        Assert.Equal(0, ((TuneSettings)chart.Transposed(chart.Key.IntervalUp(2)).Parts[0].Settings).Octaves);
    }

    private static Sounded[] Tuned(TuneSettings settings)
    {
        var chart = Song("5/8 3+2", section => section);
        return [.. new Played(chart with { Parts = [Players.Pulse(), Players.Tune(settings), Players.Clicks()], Times = 2 }).Of(Role.Tune).Where(note => note.Bar is { Index: >= 0, IsEnding: false })];
    }

    private static SectionRun RunAt(FormPlan plan, int number)
    {
        var run = plan.BarAt(0).Run;
        for (var i = 0; i < number; i++)
        {
            run = plan.RunAfter(run);
        }

        return run;
    }

    private static Section WithPickup(Section section, TuneNote pickup) =>
        section with { Tune = Tune.Of([pickup, .. section.Tune!.Notes], section.Tune.Verses, section.Bars) };

    // Two sections of four bars with a tune, bar groups of two.
    private static Chart Song(string meter, Func<Section, Section> change)
    {
        var bars = Sheet.Bars(meter, "Am", "F", "Am", "Am");
        var length = bars[0].Meter.Length;
        string[] words = ["Tide", "lan", "o", "me"];
        var tune = Tune.Of(
            [.. Enumerable.Range(0, 4).Select(bar => new TuneNote(length * bar, length, Pitch.FromMidi(76 - bar), []))],
            [[.. words.Select(word => new Syllable(word, word == "lan" ? SyllablePlace.Begin : SyllablePlace.Single, 1))]],
            bars);
        return Sheet.Chart([.. new[] { "a", "b" }.Select(name => change(Sheet.Section(name, bars, 2) with { Tune = tune }))]) with { Parts = Players.Band() };
    }
}
