using CsCheck;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Tests.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>What no back-phrasing may do, whatever the song. The bounds are counted here from the chart alone.</summary>
public sealed class BackPhrasingPropertyTests
{
    private static readonly Rational QuarterSecond = new(1, 4);
    private static readonly Gen<Phrasing> Strengths = Gen.Bool.Select(isStrong => isStrong ? Phrasing.Strong : Phrasing.Light);

    private static readonly string[] Words = ["la", "shore", "moon", "vale", "o", "ever", "be", "to", "all", "you"];

    private static readonly Gen<Chart> Charts = Gen.Select(RandomCharts.All, Gen.Int, Sung);

    [Fact]
    public void Of_AnyChart_StrikesMostStrongBeatsPlainlyAndDelaysByAPartOfAUnit()
    {
        var late = 0;
        Gen.Select(Charts, Strengths).Sample(
            (chart, phrasing) =>
            {
                var phrased = BackPhrasing.Of(chart, phrasing);
                var (strong, laid) = (0, 0);
                foreach (var (tune, bars) in Tunes(phrased.Chart))
                {
                    foreach (var verse in tune.Verses)
                    {
                        var inVerse = 0;
                        for (var i = 0; i < tune.Notes.Count; i++)
                        {
                            var note = tune.Notes[i];
                            var delay = verse[i]?.Late ?? note.Late;
                            var unit = UnitIfStrong(bars, note.Onset);
                            strong += unit is null ? 0 : 1;
                            inVerse += unit is null ? 0 : 1;
                            if (delay == Span.Zero)
                            {
                                continue;
                            }

                            laid++;
                            Assert.NotNull(unit);
                            var share = delay / unit.Value;
                            Assert.True((share * 16).IsInteger && share <= (phrasing == Phrasing.Light ? new Rational(1, 4) : new Rational(1, 2)), $"{share} of a unit");
                            Assert.True(delay < note.Length && (i + 1 == tune.Notes.Count || note.Onset + delay < tune.Notes[i + 1].Onset));
                        }

                        var lateInVerse = Enumerable.Range(0, tune.Notes.Count).Count(i => (verse[i]?.Late ?? Span.Zero) > Span.Zero);
                        Assert.True(lateInVerse * 100 <= inVerse * 35, $"{lateInVerse} of {inVerse}");
                    }
                }

                Assert.Equal((strong, laid, laid), (phrased.StrongBeats, phrased.LateStrongBeats, phrased.Late.Count));
                Interlocked.Add(ref late, laid);
            },
            iter: 500);
        Assert.True(late > 100, $"only {late} late words in all charts");
    }

    [Fact]
    public void Of_AnyChart_IsNeverLateOnTwoBarGroupsInARowNorByMoreThan250Milliseconds()
    {
        var late = 0;
        Gen.Select(Charts, Strengths).Sample(
            (chart, phrasing) =>
            {
                var plan = new FormPlan(BackPhrasing.Of(chart, phrasing).Chart);
                var wasLate = false;
                foreach (var run in plan.Runs)
                {
                    var melody = run.Section.Tune?.Melody;
                    var words = melody is { Verses.Count: > 0 } ? melody.Verses[run.Verse % melody.Verses.Count] : null;
                    var start = Span.Zero;
                    for (var bar = 0; bar < run.Bars; bar++)
                    {
                        var place = plan.BarAt(run.FirstBar + bar);
                        var opensLate = false;
                        for (var i = 0; words is not null && i < melody!.Notes.Count; i++)
                        {
                            var (at, delay) = (melody.Notes[i].Onset - start, words[i]?.Late ?? melody.Notes[i].Late);
                            if (delay > Span.Zero && at >= Span.Zero && at < place.Length)
                            {
                                Assert.True(place.TempoAt(at).Seconds(delay) <= QuarterSecond);
                                opensLate |= at == Span.Zero;
                                Interlocked.Increment(ref late);
                            }
                        }

                        if (place.GroupPlace.IsFirst)
                        {
                            Assert.False(opensLate && wasLate, $"bar {bar} of {run.Section.Name}");
                            wasLate = opensLate;
                        }

                        start += place.Length;
                    }
                }
            },
            iter: 500);
        Assert.True(late > 100, $"only {late} late words in all charts");
    }

    [Fact]
    public void Of_AnyChart_LeavesPulseBassChordsAndFurtherLinesInTime()
    {
        var heard = 0;
        Gen.Select(Charts, Strengths).Sample(
            (chart, phrasing) =>
            {
                var phrased = BackPhrasing.Of(chart, phrasing).Chart;
                var (before, after) = (new BarComposer(chart), new BarComposer(phrased));
                for (var bar = before.First; bar < Math.Min(before.First + 30, before.End ?? 30); bar++)
                {
                    var was = InTime(before.BarAt(bar));
                    Assert.Equal(was, InTime(after.BarAt(bar)));
                    Interlocked.Add(ref heard, was.Count);
                }

                foreach (var (section, other) in chart.Sections.Zip(phrased.Sections))
                {
                    Assert.Equal(section.Bars, other.Bars);
                    Assert.Equal(section.Tune?.Lines, other.Tune?.Lines);
                }
            },
            iter: 60);
        Assert.True(heard > 100, $"only {heard} notes of pulse and bass");
    }

    [Fact]
    public void Of_AnyChart_IsPlayedAsLateAsAsked()
    {
        var late = 0;
        Gen.Select(Charts, Strengths).Sample(
            (chart, phrasing) =>
            {
                var singer = HouseBand.Part(Role.Tune, InstrumentFile.BuiltIn.ByName("concertina")!, InstrumentFile.BuiltIn) with { Settings = new TuneSettings { LaidBack = LayBack.Half } };
                var phrased = BackPhrasing.Of(chart with { Parts = [singer], Sections = [.. chart.Sections.Select(section => section with { Playing = null })] }, phrasing).Chart;
                var band = new BarComposer(phrased);
                for (var bar = band.First; bar < Math.Min(band.First + 60, band.End ?? 60); bar++)
                {
                    var composed = band.BarAt(bar);
                    foreach (var note in composed.Notes.Where(note => note.Written is { Ornament: null, Tune.Line: 0, Syllable: { Note: 1 } }))
                    {
                        var asked = note.Written.Syllable!.Syllable.Late ?? Span.Zero;
                        Assert.Equal((asked, composed.Swing.Played(note.Written.Onset + asked)), (note.Written.Late, note.Onset));
                        Interlocked.Add(ref late, asked > Span.Zero ? 1 : 0);
                    }
                }
            },
            iter: 100);
        Assert.True(late > 50, $"only {late} late words in all charts");
    }

    [Fact]
    public void Of_AnyChart_GlidesOnlyWhereNoConsonantIsHeld()
    {
        var glides = 0;
        Gen.Select(Charts, Strengths, Gen.Enum<DelayWriting>()).Sample(
            (chart, phrasing, writing) =>
            {
                var phrased = BackPhrasing.Of(chart, phrasing, writing);
                foreach (var (tune, _) in Tunes(phrased.Chart))
                {
                    for (var i = 0; i < tune.Notes.Count; i++)
                    {
                        if (tune.Notes[i].Has(MarkKind.Scoop) || tune.Notes[i].Marks.Any(mark => mark is { Kind: MarkKind.Slide, Edge: MarkEdge.Stop }))
                        {
                            Interlocked.Increment(ref glides);
                            var syllables = tune.Verses.Select(verse => verse[i]).OfType<Syllable>().ToList();
                            Assert.NotEmpty(syllables);
                            Assert.DoesNotContain(syllables, syllable => "mnlvzfs".Contains(char.ToLowerInvariant(syllable.Text.First(char.IsLetter))));
                        }
                    }
                }
            },
            iter: 300);
        Assert.True(glides > 20, $"only {glides} glides in all charts");
    }

    [Fact]
    public void Of_NotesWrittenLater_KeepOrderPitchesEndsAndDelays()
    {
        var moved = 0;
        Gen.Select(Charts, Strengths, Gen.Bool.Select(isLiteral => isLiteral ? DelayWriting.Literal : DelayWriting.Rounded)).Sample(
            (chart, phrasing, writing) =>
            {
                var plain = BackPhrasing.Of(chart, phrasing);
                var phrased = BackPhrasing.Of(chart, phrasing, writing);
                Assert.Equal(plain.Late.Select(one => (one.Section, one.Ending, one.Verse, one.Note)), phrased.Late.Select(one => (one.Section, one.Ending, one.Verse, one.Note)));
                foreach (var ((was, bars), (now, _)) in Tunes(plain.Chart).Zip(Tunes(phrased.Chart)))
                {
                    Assert.Equal(was.Notes.Select(note => note.Pitch), now.Notes.Select(note => note.Pitch));
                    Assert.Equal(was.Verses.Select(verse => string.Join(' ', verse.Select(syllable => syllable?.Text))), now.Verses.Select(verse => string.Join(' ', verse.Select(syllable => syllable?.Text))));
                    for (var i = 0; i < now.Notes.Count; i++)
                    {
                        var by = now.Notes[i].Onset - was.Notes[i].Onset;
                        var next = i + 1 < now.Notes.Count ? now.Notes[i + 1].Onset - was.Notes[i + 1].Onset : Span.Zero;
                        Assert.True(now.Notes[i].Length > Span.Zero && (i + 1 == now.Notes.Count || now.Notes[i].Onset + now.Notes[i].Length <= now.Notes[i + 1].Onset));
                        var (end, before) = (now.Notes[i].Onset + now.Notes[i].Length, was.Notes[i].Onset + was.Notes[i].Length);
                        Assert.True(end == before || (next > Span.Zero && end == before + next), $"note {i} ended at {before}, now at {end}");
                        if (by == Span.Zero)
                        {
                            Assert.Equal(was.Verses.Select(verse => verse[i]?.Late), now.Verses.Select(verse => verse[i]?.Late));
                            continue;
                        }

                        Interlocked.Increment(ref moved);
                        var half = UnitIfStrong(bars, was.Notes[i].Onset)!.Value;
                        while (half > Span.Of(1, 8))
                        {
                            half /= 2;
                        }

                        half /= 2;
                        Assert.All(now.Verses, verse => Assert.Null(verse[i]!.Late));
                        Assert.All(was.Verses, verse => Assert.True(writing == DelayWriting.Literal
                            ? verse[i]!.Late == by
                            : (by / half).IsInteger && (by - verse[i]!.Late!.Value <= half / 2)));
                    }
                }
            },
            iter: 500);
        Assert.True(moved > 50, $"only {moved} notes in all charts");
    }

    // Charts with sections of four times the bars, each with a melody that often begins on group starts, and up to three verses.
    private static Chart Sung(Chart chart, int seed)
    {
        var random = new Random(seed);
        var sung = chart with
        {
            Sections =
            [
                .. chart.Sections.Select(section => section with
                {
                    Bars = [.. Enumerable.Repeat(section.Bars, 4).SelectMany(bars => bars)],
                    Tune = Melody(random, [.. Enumerable.Repeat(section.Bars, 4).SelectMany(bars => bars)], section.Tune),
                    Endings = [.. section.Endings.Select(ending => ending with { Tune = Melody(random, ending.Bars, null) })],
                }),
            ],
        };
        return IsPlayable(sung) ? sung : IsPlayable(chart) ? chart : chart with { Sections = [.. chart.Sections.Select(section => section with { Endings = [] })], Form = [new FormStep(0, 1)], Tag = [] };
    }

    private static bool IsPlayable(Chart chart)
    {
        try
        {
            return new BarComposer(chart).BarAt(0) is not null && chart.Sections.All(section => new FormPlan(chart with { Sections = [section with { Join = null }], Form = [new FormStep(0, 1)], Tag = [] }).Bars > 0);
        }
        catch (ChartProblemException)
        {
            return false;
        }
    }

    private static Tune Melody(Random random, IReadOnlyList<ChartBar> bars, Tune? old)
    {
        var notes = new List<TuneNote>();
        var at = Span.Zero;
        var pickup = old?.PickupLength ?? Span.Zero;
        if (pickup > Span.Zero)
        {
            notes.Add(new TuneNote(-pickup, pickup, Pitch.FromMidi(62), []));
        }

        foreach (var bar in bars)
        {
            foreach (var (size, start) in bar.Meter.GroupSizes.Zip(bar.Meter.GroupStartUnits))
            {
                var (onset, length) = (at + (bar.Meter.Unit * start), bar.Meter.Unit * size);
                var pitch = Pitch.FromMidi(random.Next(58, 80));
                switch (random.Next(6))
                {
                    case 0:
                        break;
                    case 1:
                        notes.Add(new TuneNote(onset, length / 2, pitch, []));
                        notes.Add(new TuneNote(onset + (length / 2), length / 2, Pitch.FromMidi(random.Next(58, 80)), []));
                        break;
                    case 2:
                        notes.Add(new TuneNote(onset, length * new Rational(2, 3), pitch, []) { Marks = random.Next(4) == 0 ? [new Mark(MarkKind.BreathMark)] : [] });
                        break;
                    default:
                        notes.Add(new TuneNote(onset, length, pitch, random.Next(8) == 0 ? [Pitch.FromMidi(60)] : []));
                        break;
                }
            }

            at += bar.Meter.Length;
        }

        if (notes.Count == 0)
        {
            notes.Add(new TuneNote(Span.Zero, bars[0].Meter.Length, Pitch.FromMidi(62), []));
        }

        return Tune.Of(notes, [.. Enumerable.Range(0, 1 + random.Next(3)).Select(_ => (IReadOnlyList<Syllable?>)[.. notes.Select(_ => random.Next(8) == 0 ? null
            : new Syllable(Words[random.Next(Words.Length)], SyllablePlace.Single, 1) { Stress = random.Next(5) == 0 ? Stress.Weak : Stress.Unknown })])], bars);
    }

    private static IEnumerable<(Tune Tune, IReadOnlyList<ChartBar> Bars)> Tunes(Chart chart) =>
        chart.Sections.SelectMany(section => section.Endings.Select(ending => (ending.Tune, ending.Bars)).Prepend((section.Tune, section.Bars)))
            .Where(one => one.Tune is { Verses.Count: > 0 }).Select(one => (one.Tune!, one.Bars));

    private static Span? UnitIfStrong(IReadOnlyList<ChartBar> bars, Span onset)
    {
        var start = Span.Zero;
        foreach (var bar in bars)
        {
            if (onset >= start && onset < start + bar.Meter.Length)
            {
                return bar.Meter.GroupStartUnits.Any(unit => start + (bar.Meter.Unit * unit) == onset) ? bar.Meter.Unit : null;
            }

            start += bar.Meter.Length;
        }

        return null;
    }

    // Places only: a chord leaves out a key that is being sung.
    private static List<(int Part, Span Onset, Span Late)> InTime(Bar bar) =>
        [.. bar.Notes.Where(note => note.Role is Role.Pulse or Role.Bass).Select(note => (note.Part, note.Onset, note.Written.Late)).Distinct().Order()];
}
