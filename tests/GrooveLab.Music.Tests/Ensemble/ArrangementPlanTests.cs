using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>The arrangement over the form. Its rules are common practice, no source; the limits are those that listeners notice.</summary>
public sealed class ArrangementPlanTests
{
    private static readonly string[] Chords8 = ["Am", "F", "G", "Am", "F", "G", "E7", "Am"];

    private static readonly Gen<Chart> Songs = Gen.Select(Gen.Int[0, 3], Gen.Int[1, 3], Gen.Int[1, 999]).Select((shape, times, seed) => Song(shape switch
    {
        0 => ["verse", "refrain", "verse", "refrain"],
        1 => ["A", "A", "B", "B"],
        2 => ["verse", "refrain", "verse", "refrain", "bridge", "refrain"],
        _ => ["intro", "verse", "lift", "refrain", "verse", "refrain", "outro"],
    }) with
    { Times = times, Seed = (ulong)seed });

    [Theory]
    [InlineData("verse refrain verse refrain", "Verse Refrain")]
    [InlineData("Verse1 Chorus Verse2 Chorus", "Verse Refrain Verse")]
    [InlineData("A A B B", "Verse Refrain")]
    [InlineData("A A B A", "Verse Bridge")]
    [InlineData("lanterns quay lanterns quay", "Verse Refrain")]
    [InlineData("intro verse lift refrain middle refrain outro", "Opening Verse Rise Refrain Bridge Closing")]
    [InlineData("one two three", "Verse Refrain Refrain")]
    [InlineData("one two three two one", "Verse Refrain Bridge")]
    [InlineData("one two three four one", "Verse Bridge Refrain Instrumental")]
    public void Kinds_NamesAndOrder_TellWhatASectionIsFor(string form, string kinds) =>
        Assert.Equal(kinds, string.Join(' ', SectionKinds.Of(Song(form.Split(' ')))));

    [Fact]
    public void Plan_NeighbouringSections_DifferInLevelOrInWhoPlays() => Songs.Sample(
        chart =>
        {
            var band = new BarComposer(chart);
            var runs = Runs(band);
            foreach (var (one, next) in runs.Zip(runs.Skip(1)).Where(pair => pair.First.SectionIndex != pair.Second.SectionIndex))
            {
                var (a, b) = (band.Arrangement.PlanOf(one, one.Verse), band.Arrangement.PlanOf(next, next.Verse));
                Assert.True(
                    Math.Abs(a.Decibels - b.Decibels) >= 1.5 || a.Tasks.Zip(b.Tasks).Count(pair => pair.First != pair.Second) >= 2,
                    $"{one.Section.Name} {ArrangementWords.Line(a, chart.Parts)} and {next.Section.Name} {ArrangementWords.Line(b, chart.Parts)}");
            }
        },
        iter: 60);

    [Fact]
    public void Plan_SectionEnds_ThreeOfFourHaveAFillOrAPickup() => Songs.Sample(
        chart =>
        {
            var band = new BarComposer(chart);
            var ends = Runs(band).SkipLast(1).Select(run => band.BarAt(run.EndBar - 1)).ToList();
            var led = ends.Count(bar => bar.Tasks.Tasks.Any(task => task is PartTask.Fill or PartTask.Pickup or PartTask.Break));
            Assert.True(led >= 0.75 * ends.Count, $"{led} of {ends.Count}");
            Assert.All(ends, bar => Assert.InRange(bar.Tasks.Tasks.Count(task => task is PartTask.Fill or PartTask.Pickup), 0, 2));
        },
        iter: 60);

    [Fact]
    public void Plan_QuickUnits_FillIsLeftToThoseWhoAreHeardInIt()
    {
        var chart = Song(["A", "A", "B", "B", "A", "A", "B", "B"]);
        var quick = new BarComposer(chart with { Tempo = Sheet.Eighth240 with { PerMinute = 460 } });
        foreach (var run in Runs(quick).SkipLast(1))
        {
            var plan = quick.Arrangement.PlanOf(run, run.Verse);

            // No hand strikes twice in 130 ms; an unbroken roll and a held voice have nothing else to play.
            var fill = Assert.Single(plan.Fills, fill => fill.Part is not 2 || plan.Fills.Count == 1);
            Assert.True(fill.Part == 2 || plan.Tasks[fill.Part] is PartTask.Thin or PartTask.OffBeats, ArrangementWords.Line(plan, chart.Parts));
        }
    }

    [Fact]
    public void Plan_ChartSaysWhoPlays_AllOfThemDo()
    {
        var chart = Song(["dawn", "day", "night", "day", "night"]);
        var band = new BarComposer(chart with { Sections = [chart.Sections[0] with { Playing = [3, 4] }, .. chart.Sections.Skip(1)] });

        Assert.Equal(SectionKind.Opening, band.Arrangement.PlanOf(band.Plan.BarAt(0).Run, 0).Kind);
        Assert.NotEqual(PartTask.Rests, band.BarAt(0).Tasks.Tasks[3]);
        Assert.Equal(PartTask.Rests, band.BarAt(0).Tasks.Tasks[0]);
    }

    [Fact]
    public void Plan_BeforeARefrain_TwoBarsRise() => Songs.Sample(
        chart =>
        {
            var band = new BarComposer(chart);
            var kinds = SectionKinds.Of(chart);
            var runs = Runs(band);
            foreach (var (one, next) in runs.Zip(runs.Skip(1)).Where(pair => kinds[pair.Second.SectionIndex] == SectionKind.Refrain && pair.First.SectionIndex != pair.Second.SectionIndex))
            {
                var before = band.BarAt(one.EndBar - 3).Tasks;
                var last = band.BarAt(one.EndBar - 1).Tasks;
                Assert.True(last.DecibelsAfter - before.DecibelsAfter >= 1.5);
                Assert.Equal(before.DecibelsAfter, band.BarAt(one.EndBar - 2).Tasks.Decibels);
                Assert.Equal(band.BarAt(one.EndBar - 2).Tasks.DecibelsAfter, last.Decibels);
            }
        },
        iter: 40);

    [Fact]
    public void Plan_LastRound_IsLouderThanTheFirstAndFullest() => Songs.Sample(
        chart =>
        {
            var band = new BarComposer(chart);
            foreach (var playings in Runs(band).GroupBy(run => run.SectionIndex).Where(playings => playings.Count() > 1))
            {
                var plans = playings.Select(run => band.Arrangement.PlanOf(run, run.Verse)).ToList();

                // Who plays fuller is louder by that alone; the script of measures listens.
                Assert.True(
                    plans[^1].Decibels > plans[0].Decibels || plans[^1].Energy > plans[0].Energy, $"{plans[0].Decibels} and {plans[^1].Decibels} dB");
                Assert.Equal(plans.Max(plan => plan.Energy), plans[^1].Energy);
            }
        },
        iter: 60);

    [Fact]
    public void Plan_NoEndKnown_NoRoundIsTheLast()
    {
        var chart = Song(["verse", "refrain", "verse", "refrain"]) with { Times = 2 };
        var live = new BarComposer(chart, new ComposerOptions { Endless = true });
        var called = new BarComposer(chart, new ComposerOptions { Bars = 64, RingsAfterBars = true });

        Assert.DoesNotContain(Enumerable.Range(0, 40), run => live.Arrangement.PlanOf(live.Plan.BarAt(run * 8).Run, run / 2).Energy == BarTasks.Most);
        Assert.Equal(BarTasks.Most, called.BarAt(63).Tasks.Energy);
        Assert.True(called.Arrangement.PlanOf(called.Plan.BarAt(63).Run, 3).IsLastRound);
    }

    [Fact]
    public void Plan_OneSection_KeepsItsEnergyAndBreathesByBarGroups()
    {
        var band = new BarComposer(Song(["A"]) with { Times = 4 });
        var bars = Enumerable.Range(0, 32).Select(band.BarAt).ToList();

        Assert.All(bars, bar => Assert.Equal(BarTasks.Usual, bar.Tasks.Energy));
        Assert.All(bars, bar => Assert.InRange(bar.Tasks.Decibels, -0.5, 0.5));
        Assert.True(bars.Select(bar => bar.Tasks.Decibels).Distinct().Count() > 1);
        Assert.DoesNotContain(bars, bar => bar.Tasks.Tasks.Contains(PartTask.Rests));
    }

    [Fact]
    public void Plan_ArrangementNone_EveryPartPlaysAtItsOwnLevel()
    {
        var band = new BarComposer(Song(["verse", "refrain", "verse", "refrain"]) with { IsArranged = false });

        Assert.All(Enumerable.Range(0, 32).Select(band.BarAt), bar =>
        {
            Assert.All(bar.Tasks.Tasks, task => Assert.Equal(PartTask.Plays, task));
            Assert.Equal((BarTasks.Usual, 0.0, 0.0), (bar.Tasks.Energy, bar.Tasks.Decibels, bar.Tasks.DecibelsAfter));
        });
    }

    [Fact]
    public void Plan_OrdersOfASection_ComeBeforeItsOwn()
    {
        var chart = Song(["verse", "refrain", "verse", "refrain"]);
        var orders = new SectionOrders { Energies = [5, 1], Tasks = [new PartOrders(1, [PartTask.Rests, PartTask.High])], Fill = 0 };
        var band = new BarComposer(chart with { Sections = [chart.Sections[0] with { Orders = orders }, chart.Sections[1]] });

        Assert.Equal((5, PartTask.Rests), (band.BarAt(0).Tasks.Energy, band.BarAt(0).Tasks.Tasks[1]));
        Assert.Equal((1, PartTask.High), (band.BarAt(16).Tasks.Energy, band.BarAt(16).Tasks.Tasks[1]));
        Assert.Equal(PartTask.Fill, band.BarAt(7).Tasks.Tasks[0]);
        Assert.DoesNotContain(band.BarAt(0).Notes, note => note.Part == 1);
        Assert.Contains(band.BarAt(16).Notes, note => note.Part == 1);
    }

    [Fact]
    public void Break_BeforeTheLastRefrain_BandStrikesOnceAndRests()
    {
        var band = new BarComposer(Song(["verse", "refrain", "verse", "refrain", "verse", "refrain"]));
        var bar = band.BarAt(39);

        Assert.All(bar.Tasks.Tasks.Take(4), task => Assert.Equal(PartTask.Break, task));
        Assert.Equal(BandStop.Strike, bar.Stop);
        Assert.All(bar.Notes.Where(note => note.Role is Role.Pulse or Role.Roll or Role.Bass or Role.Sustain), note => Assert.True(note.End <= bar.Meter.Unit));
        var before = band.BarAt(38);
        Assert.All(before.Notes.Where(note => note.Role is not (Role.Tune or Role.Count)), note => Assert.True(note.End <= before.Length));
        Assert.DoesNotContain(PartTask.Break, band.BarAt(7).Tasks.Tasks);
    }

    [Fact]
    public void Levels_OfNotes_FollowThePlan()
    {
        var plain = new BarComposer(Song(["verse", "refrain", "verse", "refrain"]) with { IsArranged = false, Looseness = 0 });
        var arranged = new BarComposer(Song(["verse", "refrain", "verse", "refrain"]) with { Looseness = 0 });

        // The tune plays the same notes either way: 40 log10 of the velocities' ratio is the plan's level (SoundFont 2.04).
        foreach (var index in new[] { 0, 5, 7, 8, 24 })
        {
            var (one, other) = (plain.BarAt(index).Notes.First(note => note.Role == Role.Tune), arranged.BarAt(index).Notes.First(note => note.Role == Role.Tune));
            var level = 40 * Math.Log10((double)other.Velocity / one.Velocity);
            Assert.InRange(level - arranged.BarAt(index).Tasks.Decibels, -0.3, 0.3);
        }
    }

    private static List<SectionRun> Runs(BarComposer band)
    {
        var runs = new List<SectionRun>();
        for (var bar = 0; bar < band.Plan.Bars; bar = runs[^1].EndBar)
        {
            runs.Add(band.Plan.BarAt(bar).Run);
        }

        return runs;
    }

    // Once a bug: a part that rests in all bars of a section but the last played in all of them.
    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Rests_ButForTheFill_IsSilentBefore(int part)
    {
        var chart = Song(["verse", "refrain"]);
        var orders = new SectionOrders { Tasks = [new PartOrders(part, [PartTask.Rests])], Fill = part };
        var band = new BarComposer(chart with { Sections = [chart.Sections[0] with { Orders = orders }, chart.Sections[1]] });

        Assert.True(band.BarAt(7).Tasks.Tasks[part] is PartTask.Fill or PartTask.Pickup);
        Assert.All(Enumerable.Range(0, 7), bar => Assert.DoesNotContain(band.BarAt(bar).Notes, note => note.Part == part));
        Assert.Contains(band.BarAt(7).Notes, note => note.Part == part);
    }

    // Once a bug: figures inside a section, and breaks before the last refrain, overruled what the section asked.
    [Fact]
    public void Orders_FillNoneAndTasks_AreKeptInEveryBar()
    {
        var chart = Song(["verse", "refrain", "verse", "refrain", "verse", "refrain"]) with { Times = 2 };
        var orders = new SectionOrders { Tasks = [new PartOrders(0, [PartTask.Thin])], Fill = SectionOrders.NoFill };
        var band = new BarComposer(chart with { Sections = [chart.Sections[0] with { Orders = orders }, chart.Sections[1]] });

        var verses = Enumerable.Range(0, 96).Select(band.BarAt).Where(bar => bar.Section == "verse").ToList();
        Assert.Equal(48, verses.Count);
        Assert.All(verses, bar => Assert.Equal(PartTask.Thin, bar.Tasks.Tasks[0]));
        Assert.All(verses, bar => Assert.DoesNotContain(bar.Tasks.Tasks, task => task is PartTask.Fill or PartTask.Pickup or PartTask.Break));
    }

    // Once a bug: the bars of a tag counted as one more round, so that none was the last.
    [Fact]
    public void Plan_Tag_IsNoRound()
    {
        var chart = Song(["verse", "refrain"]) with { Times = 2 };
        var tagged = new BarComposer(chart with { Tag = [new FormStep(1, 1)] });
        Assert.Equal(new BarComposer(chart).Arrangement.Rounds, tagged.Arrangement.Rounds);
        Assert.Equal(5, tagged.BarAt((4 * 8) + 1).Tasks.Energy);
    }

    // Once a bug: from the 25th run on each bar composed its run anew.
    [Fact]
    public void BarAt_LateInALongPerformance_ComposesNoRunTwice()
    {
        var band = new BarComposer(Song(["verse", "refrain", "verse", "refrain"]) with { Times = 30 });
        foreach (var bar in Enumerable.Range(0, 28 * 32))
        {
            band.BarAt(bar);
        }

        // The first bar of a run makes the run; the others only write their notes.
        var first = Allocated(28 * 32);
        var others = Enumerable.Range((28 * 32) + 1, 7).Max(Allocated);
        Assert.True(others < first / 4, $"{others} and {first} bytes");

        long Allocated(int bar)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            band.BarAt(bar);
            return GC.GetAllocatedBytesForCurrentThread() - before;
        }
    }

    // Once a bug: a section named as an opening was half a decibel softer for every section before it.
    [Fact]
    public void Plan_OpeningThatComesLate_IsAsLoudAsItsFirst()
    {
        var band = new BarComposer(Song(["intro", "verse", "verse", "refrain", "intro", "verse", "refrain"]));
        var openings = Runs(band).Where(run => run.Section.Name == "intro").Select(run => band.Arrangement.PlanOf(run, run.Verse).Decibels).ToList();

        Assert.Equal(2, openings.Count);
        // It leads to a fuller verse now, of whose players each is 0.8 dB softer.
        Assert.InRange(openings[1] - openings[0], -0.9, 2);
    }

    // Once a bug: the fullest refrain had the roll of the refrain before it, note for note.
    [Fact]
    public void Full_RollOfTheLastRefrain_IsNotTheOneBeforeNoteForNote()
    {
        var band = new BarComposer(Song(["verse", "refrain", "verse", "refrain", "verse", "refrain"]));
        var runs = Runs(band).Where(run => run.Section.Name == "refrain").ToList();
        var roll = Enumerable.Range(0, band.Chart.Parts.Count).Single(part => band.Chart.Parts[part].Role == Role.Roll);
        Assert.Equal(PartTask.Full, band.BarAt(runs[2].FirstBar).Tasks.Tasks[roll]);
        var other = Enumerable.Range(0, 8).Count(bar => !Keys(runs[1].FirstBar + bar).SequenceEqual(Keys(runs[2].FirstBar + bar)));
        Assert.InRange(other, 2, 6);

        IEnumerable<int> Keys(int bar) => band.BarAt(bar).Notes.Where(note => note.Part == roll).Select(note => note.Key);
    }

    // Once a bug: a pulse without damped strokes took no notice of it.
    [Fact]
    public void Thin_PulseThatDampsNothing_PlaysFewerStrings()
    {
        double Strings(PartTask task)
        {
            var chart = Song(["verse", "refrain"]);
            var orders = new SectionOrders { Tasks = [new PartOrders(0, [task])], Fill = SectionOrders.NoFill };
            var pulse = Players.Pulse() with { Settings = new PulseSettings { Damped = false } };
            var band = new BarComposer(chart with { Parts = [pulse, .. chart.Parts.Skip(1)], Sections = [chart.Sections[0] with { Orders = orders }, chart.Sections[1]] });
            return Enumerable.Range(0, 8).Average(bar => band.BarAt(bar).Notes.Count(note => note.Part == 0));
        }

        Assert.InRange(Strings(PartTask.Thin), 5, 0.8 * Strings(PartTask.Full));
    }

    private static Chart Song(string[] form)
    {
        var names = form.Distinct().ToList();
        var bars = Sheet.Bars("5/8 3+2", Chords8);
        var notes = Enumerable.Range(0, 16).Select(i => new TuneNote(Span.Of(5 * (i / 2), 8) + Span.Of(3 * (i % 2), 8), Span.Of(2, 8), Pitch.FromMidi(69), [])).ToArray();
        return Sheet.Chart([.. names.Select(name => Sheet.Section(name, bars) with { Tune = Tune.Of(notes, [], bars) })]) with
        {
            IsArranged = true,
            Form = [.. form.Select(name => new FormStep(names.IndexOf(name), 1))],
            Parts = [Players.Pulse(), Players.Roll(Players.Dulcimer), Players.Bass(), Players.Sustain(), Players.Tune(), Players.Clicks()],
        };
    }
}
