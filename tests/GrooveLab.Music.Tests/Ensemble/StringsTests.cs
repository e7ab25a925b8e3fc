using CsCheck;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Tests.Charts;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Ensemble;

/// <summary>What pulse and roll keep and what they change. Common practice, no source.</summary>
public sealed class StringsTests
{
    // Once a bug: shapes were sought on the first nine frets only, and a register above them had none.
    [Theory]
    [InlineData(73, 85)]
    [InlineData(74, 86)]
    public void Band_GuitarHighOnTheNeck_PlaysInItsRegister(int lowest, int highest)
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("4/4", ["C", "Am", "F", "G7", "N.C.", "D", "Em", "C"]))) with
        {
            Parts =
            [
                Players.Pulse(new PulseSettings()) with { Instrument = Players.Guitar, Lowest = lowest, Highest = highest },
                Players.Roll(Players.Guitar) with { Lowest = lowest, Highest = highest },
                Players.Clicks(),
            ],
        };
        var band = new BarComposer(chart);
        var notes = Enumerable.Range(0, 8).SelectMany(bar => band.BarAt(bar).Notes).Where(note => note.Role is Role.Pulse or Role.Roll && !note.Unpitched).ToArray();

        // The roll may go to another octave to stay apart from the pulse.
        var outside = notes.Where(note => note.Role == Role.Pulse && (note.Key < lowest || note.Key > highest)).Select(note => note.Key).Distinct().ToArray();
        Assert.Contains(notes, note => note.Role == Role.Pulse);
        Assert.Contains(notes, note => note.Role == Role.Roll);
        Assert.Empty(outside);
    }

    [Fact]
    public void Pulse_GuitarInAnOpenKey_HasFullChordsLowOnTheNeckWithoutGaps()
    {
        var played = new Played(Walk("4/4", 16, "G", "C", "D", "Em") with
        {
            Parts = [Players.Pulse(new PulseSettings()) with { Instrument = Players.Guitar, Lowest = 40, Highest = 68 }, Players.Bass(), Players.Clicks()],
        });
        var strokes = played.Of(Role.Pulse).Where(sounded => sounded.Bar.Index >= 0 && !sounded.Bar.IsEnding && sounded.Note.Touch != Touch.Damped)
            .GroupBy(sounded => (sounded.Bar.Index, sounded.Note.Onset)).Select(stroke => stroke.Select(sounded => sounded.Note).ToArray()).ToArray();
        var frets = strokes.SelectMany(stroke => stroke).Select(note => note.Key - Players.Guitar.Strings[note.String - 1]).Order().ToArray();

        Assert.All(strokes, stroke => Assert.Equal(stroke.Length, stroke.Max(note => note.String) - stroke.Min(note => note.String) + 1));
        Assert.Contains(strokes, stroke => stroke.Length >= 5);
        Assert.InRange(strokes.Count(stroke => stroke.Length >= 4), strokes.Length / 2, strokes.Length);
        Assert.True(frets[frets.Length / 2] <= 4, $"median fret {frets[frets.Length / 2]}");
        Assert.True(frets.Count(fret => fret == 0) * 4 >= frets.Length, "fewer open strings than a quarter");
    }

    [Fact]
    public void Playings_Later_DifferInSomeBarsAndKeepEveryPlace()
    {
        var (bars, pulses, rolls) = (0, 0, 0);
        for (var seed = 1UL; seed <= 12; seed++)
        {
            var chart = Walk("7/8 2+2+3", 8, "Am", "G", "F", "E7");
            var played = new Played(chart with { Form = [new FormStep(0, 3)], Seed = seed, Parts = [Players.Pulse(), Players.Roll(), Players.Clicks()] });
            foreach (var bar in played.Form.Where(bar => bar.Index >= 8 && bar.Tasks.Tasks[0] == PartTask.Plays && bar.Tasks.Tasks[1] == PartTask.Plays))
            {
                var first = played.Form.First(other => other.IndexInSection == bar.IndexInSection);
                if (first.Tasks.Tasks[0] != PartTask.Plays || first.Tasks.Tasks[1] != PartTask.Plays)
                {
                    continue;
                }

                bars++;
                pulses += Content(first, Role.Pulse) == Content(bar, Role.Pulse) ? 0 : 1;
                rolls += Content(first, Role.Roll) == Content(bar, Role.Roll) ? 0 : 1;
                Assert.Equal(Places(first, Role.Pulse), Places(bar, Role.Pulse));
                Assert.Equal(Places(first, Role.Roll), Places(bar, Role.Roll));
            }
        }

        Assert.True(bars >= 20, $"{bars} bars to compare");
        Assert.InRange(100.0 * pulses / bars, 20, 60);
        Assert.InRange(100.0 * rolls / bars, 20, 60);
    }

    [Fact]
    public void Seed_Other_ChangesThePulse()
    {
        var chart = Walk("7/8 2+2+3", 16, "Am", "G", "F", "E7") with { Parts = [Players.Pulse(), Players.Clicks()] };
        var one = new Played(chart with { Seed = 1 });
        var changed = Enumerable.Range(2, 8).Select(seed =>
        {
            var other = new Played(chart with { Seed = (ulong)seed });
            return one.Form.Zip(other.Form).Count(pair => Content(pair.First, Role.Pulse) != Content(pair.Second, Role.Pulse)) / 16.0;
        });
        Assert.True(changed.Average() >= 0.15);
    }

    [Theory]
    [InlineData(2, 3)]
    [InlineData(3, 2)]
    public void Roll_SwungQuarters_GoesInThreesOrTwosThatNeverGallop(int ratio, int notes)
    {
        var chart = Walk("4/4", 4, "Am") with { Swing = new Rational(ratio, 1), Tempo = Sheet.Of(1, 4, 80), Parts = [Players.Roll(), Players.Clicks()] };
        var bar = new BarComposer(chart with { Looseness = 0 }).BarAt(0);
        var places = bar.Notes.Where(note => note.Role == Role.Roll).Select(note => note.Onset).ToArray();

        Assert.Equal(4 * notes, places.Length);
        if (notes == 3)
        {
            Assert.All(places.Zip(places.Skip(1)), pair => Assert.Equal(Span.Of(1, 12), pair.Second - pair.First));
        }
    }

    [Fact]
    public void Roll_WhateverTheArrangementAsks_KeepsToItsGridAndItsHand() => Gigs.Steady.Sample(
        gig =>
        {
            var played = new Played(gig.Chart);
            Assert.Empty(BandRules.NoFingerTwice(played).Concat(BandRules.NoStringTwice(played)).Take(3));
            foreach (var bar in played.Form)
            {
                var roll = bar.Notes.Where(note => note.Role == Role.Roll).ToArray();
                var part = gig.Chart.Parts.ToList().FindIndex(part => part.Role == Role.Roll);
                Assert.True(bar.Tasks.Tasks[part] == PartTask.Rests || bar.Stop != BandStop.None || roll.Length > 0 || bar.Meter.Units == 1, $"bar {bar.Index} is empty");
                Assert.All(roll, note => Assert.True((note.Written.Onset / RollStep(bar)).IsInteger));
            }
        },
        iter: 40);

    private static Span RollStep(Bar bar)
    {
        var step = bar.Meter.Unit;
        while (step > Span.Of(1, 16))
        {
            step /= 2;
        }

        return step;
    }

    private static string Content(Bar bar, Role role) => string.Join(' ', bar.Notes.Where(note => note.Role == role).Select(note => $"{note.Onset}:{note.Key}:{note.Touch}"));

    private static IEnumerable<Span> Places(Bar bar, Role role) => bar.Notes.Where(note => note.Role == role).Select(note => note.Onset).Distinct();

    private static Chart Walk(string meter, int bars, params string[] chords) =>
        Sheet.Chart(Sheet.Section("A", [.. Enumerable.Range(0, bars).Select(bar => Sheet.Bar(meter, chords[bar % chords.Length]))]));
}
