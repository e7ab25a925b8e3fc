using CsCheck;
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

/// <summary>How bass and held voices lead, sing and vary. Shares and counts are common practice, no source.</summary>
public sealed class LineTests
{
    private static readonly string[] Meters = ["5/8 3+2", "7/8 2+2+3", "9/8 (2+2)+(2+3)", "13/16 3+3+3+2+2", "4/4 2+2", "6/8", "5/4 3+2"];

    private static readonly string[] Turn = ["Am", "F", "C", "G", "Am", "Dm7", "Bm7b5", "E7"];

    private static readonly Span Eighth = Span.Of(1, 8);

    [Fact]
    public void Bass_ManyMeters_LeadsByStepIntoBarGroupsAndLeavesItsRoots()
    {
        foreach (var meter in Meters)
        {
            var notes = new Played(Walk(meter, 32, Turn)).Of(Role.Bass).Where(InForm).ToArray();
            var lines = Enumerable.Range(3, notes.Length - 3).Count(i => notes[i].Note.Onset == Span.Zero && notes[i].Bar.GroupPlace.IsFirst && IsLine(notes[(i - 3)..(i + 1)]));
            Assert.True(lines >= 4, $"{meter}: {lines} lines in 32 bars");

            var roots = notes.Count(note => note.Note.Key % 12 == ChordAt(note).Root.PitchClass);
            Assert.InRange(100.0 * roots / notes.Length, 50, 65);
        }
    }

    [Fact]
    public void Bass_ManyMeters_ApproachesAThirdToAHalfOfTheRootsAndMostSections()
    {
        foreach (var meter in Meters)
        {
            var (into, all, sections, playings) = (0, 0, 0, 0);
            for (var seed = 1UL; seed <= 4; seed++)
            {
                var notes = new Played(Walk(meter, 16, Turn) with { Seed = seed, Times = 4 }).Of(Role.Bass).Where(InForm).ToArray();
                for (var i = 1; i < notes.Length; i++)
                {
                    if (notes[i].Note.Onset > Span.Zero)
                    {
                        continue;
                    }

                    var led = notes[i - 1].Note.Onset > Span.Zero && Math.Abs(notes[i].Note.Key - notes[i - 1].Note.Key) is 1 or 2;
                    (into, all) = (into + (led ? 1 : 0), all + 1);
                    var starts = notes[i].Bar.IndexInSection == 0;
                    (sections, playings) = (sections + (starts && led ? 1 : 0), playings + (starts ? 1 : 0));
                }
            }

            Assert.True(into >= 0.3 * all && into <= 0.5 * all, $"{meter}: {into} of {all} roots");
            Assert.True(sections >= 0.7 * playings, $"{meter}: {sections} of {playings} sections");
        }
    }

    [Fact]
    public void Bass_AnyChart_NeverGrindsAgainstTheThirdUnlessTheChordSaysSo() => Gigs.All.Sample(
        gig => Assert.Empty(new Played(gig.Chart).Of(Role.Bass).Where(InForm)
            .Where(note => ChordAt(note) is { IsNoChord: false } chord && note.Note.Key % 12 != chord.Bass.PitchClass
                && chord.Tones.Third is { } third && (note.Note.Key - third.PitchClass + 12) % 12 is 1 or 11)
            .Select(note => $"bar {note.Bar.Index}: {note.Note.Key} at {note.Note.Onset} under {ChordAt(note)}")),
        iter: 40);

    [Theory]
    [InlineData("5/8 3+2")]
    [InlineData("7/8 2+2+3")]
    [InlineData("9/8 (2+2)+(2+3)")]
    public void Bass_FeltInGroupsOrInOne_MarksTheGroupsOrNone(string meter)
    {
        double Marked(FeltLevel felt)
        {
            var played = new Played(Walk(meter, 32, Turn) with { Feel = felt });
            var starts = played.Form.SelectMany(bar => bar.Meter.GroupStartUnits.Skip(1).Select(unit => bar.Notes.Any(note => note.Role == Role.Bass && note.Onset == bar.Meter.Unit * unit))).ToArray();
            return 100.0 * starts.Count(marked => marked) / starts.Length;
        }

        Assert.True(Marked(FeltLevel.Group) >= 70, $"{Marked(FeltLevel.Group)} % in groups");
        Assert.Equal(0, Marked(FeltLevel.Bar));
    }

    [Theory]
    [InlineData(Role.Bass)]
    [InlineData(Role.Sustain)]
    public void LaterPlayings_AnySeed_DifferInAFifthToAHalfOfTheirBars(Role role)
    {
        var (differing, all) = (0, 0);
        foreach (var meter in Meters)
        {
            for (var seed = 1UL; seed <= 3; seed++)
            {
                var bars = new Played(Walk(meter, 16, Turn) with { Seed = seed, Times = 4 }).Form.ToArray();
                for (var playing = 1; playing < 4; playing++)
                {
                    var (differ, kept, places) = (0, 0, 0);
                    for (var bar = 0; bar < 16; bar++)
                    {
                        var (first, later) = (Content(bars, bar, role), Content(bars, (16 * playing) + bar, role));
                        differ += first.SetEquals(later) ? 0 : 1;
                        places += Places(bars[bar], role).Count;
                        kept += Places(bars[bar], role).Intersect(Places(bars[(16 * playing) + bar], role)).Count();
                        Assert.True(role != Role.Bass || Places(bars[(16 * playing) + bar], role).Contains(Span.Zero), $"{meter}: no downbeat in bar {bar}");
                    }

                    Assert.InRange(differ, 2, 11);
                    (differing, all) = (differing + differ, all + 16);
                    Assert.True(kept >= 0.6 * places, $"{meter}, seed {seed}, playing {playing}: {kept} of {places} places");
                }
            }
        }

        Assert.InRange(100.0 * differing / all, 20, 50);
    }

    [Fact]
    public void Sustain_AnotherSeed_SingsOtherBars()
    {
        var one = new Played(Walk("5/8 3+2", 32, Turn) with { Seed = 1 }).Form.ToArray();
        var two = new Played(Walk("5/8 3+2", 32, Turn) with { Seed = 2 }).Form.ToArray();

        Assert.True(Enumerable.Range(0, 32).Count(bar => !Content(one, bar, Role.Sustain).SetEquals(Content(two, bar, Role.Sustain))) >= 5);
    }

    [Fact]
    public void Sustain_ManyMeters_SuspendsPassesAndMovesByStepAgainstTheBass()
    {
        foreach (var meter in Meters)
        {
            var played = new Played(Walk(meter, 48, Turn) with { Parts = Players.Band() });
            var bass = played.Of(Role.Bass).Where(InForm).ToArray();
            var (suspended, passed, moves, steps, leaps, against, both) = (0, 0, 0, 0, 0, 0, 0);
            foreach (var voice in played.Of(Role.Sustain).Where(InForm).GroupBy(note => note.Note.Written.Voice))
            {
                var line = voice.ToArray();
                for (var i = 1; i < line.Length; i++)
                {
                    var by = line[i].Note.Key - line[i - 1].Note.Key;
                    if (by == 0)
                    {
                        continue;
                    }

                    moves++;
                    steps += Math.Abs(by) <= 2 ? 1 : 0;
                    leaps += Math.Abs(by) > 7 ? 1 : 0;
                    var moved = BassAt(bass, line[i].From) - BassAt(bass, line[i - 1].From);
                    (both, against) = (both + (moved != 0 ? 1 : 0), against + (moved * by < 0 ? 1 : 0));
                    // It belonged to the chord under which it began, not to the one that came, and goes down into that one.
                    var here = ChordAt(line[i]);
                    suspended += by is -1 or -2 && !here.Tones.Contains(line[i - 1].Note.Key) && line[i].Note.Onset > Span.Zero && here.Tones.Contains(line[i].Note.Key)
                        && (ChordAt(line[i - 1]).Tones.Contains(line[i - 1].Note.Key) || line[i - 1].Note.Written.Join == NoteJoin.HeldOn) ? 1 : 0;
                    passed += i + 1 < line.Length && !here.Tones.Contains(line[i].Note.Key) && Math.Abs(by) <= 2
                        && Math.Abs(line[i + 1].Note.Key - line[i].Note.Key) is 1 or 2 && (line[i + 1].Note.Key - line[i].Note.Key) * by > 0 ? 1 : 0;
                }
            }

            var counts = $"{meter}: {suspended} suspensions, {passed} passing notes, {steps} steps and {leaps} leaps of {moves}, {against} of {both} against the bass";
            Assert.True(suspended >= 6 && passed >= 6 && steps >= 0.6 * moves && leaps <= 0.02 * moves && against >= 0.4 * both, counts);
        }
    }

    [Fact]
    public void Sustain_AnyChart_SoundsNothingButChordTonesAndPreparedOrPassingDissonance() => Gigs.All.Sample(
        gig =>
        {
            var played = new Played(gig.Chart with { IsArranged = false });
            foreach (var voice in played.Of(Role.Sustain).Where(InForm).GroupBy(note => (note.Note.Part, note.Note.Written.Voice)))
            {
                var line = voice.ToArray();
                for (var i = 0; i < line.Length; i++)
                {
                    var chord = played.Bars.First(bar => bar.Start <= Written(line[i]) && bar.End > Written(line[i])) is var bar ? bar.Chords.ChordAt(Written(line[i]) - bar.Start) : null;
                    if (chord is null or { IsNoChord: true } || chord.Tones.Contains(line[i].Note.Key))
                    {
                        continue;
                    }

                    var prepared = i > 0 && line[i - 1].Note.Key == line[i].Note.Key;
                    var passing = i > 0 && i + 1 < line.Length && (line[i + 1].Note.Key - line[i].Note.Key) * (line[i].Note.Key - line[i - 1].Note.Key) is > 0 and <= 4;
                    Assert.True(prepared || passing, $"bar {line[i].Bar.Index}: {line[i].Note.Key} at {line[i].Note.Onset} under {chord}");
                }
            }
        },
        iter: 40);

    [Fact]
    public void Sustain_SuspendedFourth_HasNoThirdFromThePulseUntilItResolves()
    {
        var (suspensions, grinding) = (0, 0);
        foreach (var meter in Meters)
        {
            var played = new Played(Walk(meter, 48, Turn));
            foreach (var note in played.Of(Role.Sustain).Where(InForm).Where(note => note.Note.Key % 12 is var key
                && note.Note.Onset == Span.Zero && ChordAt(note).Tones.Third is { } third && (key - third.PitchClass + 12) % 12 == 1 && note.Note.Written.Join == NoteJoin.HeldOn))
            {
                suspensions++;
                grinding += played.Notes.Any(other => other.Note.Role is Role.Pulse && other.From < note.To && other.To > note.From
                    && other.Note.Touch != Touch.Damped && other.Note.Key >= Voicings.LowIntervalLimit + 5 && other.Note.Key % 12 == ChordAt(note).Tones.Third!.Value.PitchClass) ? 1 : 0;
            }
        }

        Assert.True(suspensions > 0 && grinding == 0, $"{grinding} of {suspensions}");
    }

    [Fact]
    public void Tasks_OfTheArrangement_ThinFillAndRaiseBassAndSustain()
    {
        var plain = Tasked(PartTask.Plays);
        var thin = Tasked(PartTask.Thin);
        var full = Tasked(PartTask.Full);
        var high = Tasked(PartTask.High);
        var fills = Tasked(PartTask.Pickup);

        Assert.All(thin.Form, bar => Assert.Equal([Span.Zero], Places(bar, Role.Bass)));
        Assert.True(Notes(full, Role.Bass).Length > 1.15 * Notes(plain, Role.Bass).Length);
        Assert.True(Mean(high, Role.Bass) > Mean(plain, Role.Bass) + 3, $"{Mean(high, Role.Bass)} and {Mean(plain, Role.Bass)}");
        Assert.True(Mean(high, Role.Sustain) > Mean(plain, Role.Sustain) + 2, $"{Mean(high, Role.Sustain)} and {Mean(plain, Role.Sustain)}");
        Assert.Single(Notes(thin, Role.Sustain).Select(note => note.Note.Written.Voice).Distinct());
        Assert.Equal(2, Notes(full, Role.Sustain).Select(note => note.Note.Written.Voice).Distinct().Count());
        Assert.True(Notes(fills, Role.Sustain).Length > Notes(plain, Role.Sustain).Length);
        var led = Notes(fills, Role.Bass);
        var lines = Enumerable.Range(3, led.Length - 3).Count(i => led[i].Note.Onset == Span.Zero && IsLine(led[(i - 3)..(i + 1)]));
        Assert.True(lines >= 10, $"{lines} lines in 16 bars");
    }

    [Fact]
    public void BarAt_FiveHundredBars_IsStillTheSameBarFromScratch()
    {
        var chart = Walk("7/8 2+2+3", 500, Turn) with { Times = 2 };
        var played = new BarComposer(chart);
        foreach (var bar in new[] { 7, 250, 499, 731, 998 })
        {
            Assert.Equal(played.BarAt(bar).Notes, new BarComposer(chart).BarAt(bar).Notes);
        }
    }

    private static Played Tasked(PartTask task)
    {
        var chart = Walk("5/8 3+2", 16, Turn);
        return new Played(chart with
        {
            IsArranged = true,
            Sections = [.. chart.Sections.Select(section => section with
            {
                Orders = new SectionOrders
                {
                    Fill = SectionOrders.NoFill,
                    Tasks = [.. chart.Parts.Select((part, index) => (part, index)).Where(one => one.part.Role is Role.Bass or Role.Sustain).Select(one => new PartOrders(one.index, [task]))],
                },
            })],
        });
    }

    private static Sounded[] Notes(Played played, Role role) => [.. played.Of(role).Where(InForm)];

    private static double Mean(Played played, Role role) => Notes(played, role).Average(note => note.Note.Key);

    private static bool InForm(Sounded note) => note.Bar.Index >= 0 && !note.Bar.IsEnding;

    private static ChordSymbol ChordAt(Sounded note) => note.Bar.Chords.ChordAt(note.Note.Onset);

    private static Position Written(Sounded note) => note.Bar.Start + note.Note.Written.Onset;

    private static int BassAt(Sounded[] bass, Position at) => bass.LastOrDefault(note => note.From <= at, bass[0]).Note.Key;

    private static bool IsLine(Sounded[] notes)
    {
        var steps = notes.Zip(notes.Skip(1), (a, b) => b.Note.Key - a.Note.Key).ToArray();
        return steps.All(step => step is 1 or 2) || steps.All(step => step is -1 or -2);
    }

    private static HashSet<Span> Places(Bar bar, Role role) => [.. bar.Notes.Where(note => note.Role == role).Select(note => note.Onset)];

    // What is heard of a part: place, key and about how long, and what sounds on from before.
    private static HashSet<(Span At, int Key, int Length)> Content(Bar[] bars, int bar, Role role)
    {
        var heard = bars[bar].Notes.Where(note => note.Role == role)
            .Select(note => (note.Onset, note.Key, (int)Math.Round(Math.Log2((note.Length / bars[bar].Meter.Unit).ToDouble())))).ToHashSet();
        var before = bars.Take(bar).Where(old => old.Section == bars[bar].Section && bar - old.Index <= 8);
        heard.UnionWith(before.SelectMany(old => old.Notes.Where(note => note.Role == role && old.Start + note.End > bars[bar].Start).Select(note => (-Eighth, note.Key, 0))));
        return heard;
    }

    private static Chart Walk(string meter, int bars, params string[] chords) =>
        Sheet.Chart(Sheet.Section("A", [.. Enumerable.Range(0, bars).Select(bar => Sheet.Bar(meter, chords[bar % chords.Length]))])) with
        {
            Parts = Players.Band(),
            Looseness = 0,
            Ending = false,
        };
}
