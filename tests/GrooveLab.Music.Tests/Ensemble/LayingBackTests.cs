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

/// <summary>Tune and sustain behind the beat: by a lean, or by notes written late. The limits are the project's own.</summary>
public sealed class LayingBackTests
{
    [Fact]
    public void Lean_AnyChart_DelaysTuneAndSustainOnly_AndWritesNothingLate() => Gigs.Steady.Sample(
        gig =>
        {
            var straight = new Played(gig.Chart with { Looseness = 0, Parts = Laid(gig.Chart, LayBack.None) });
            var played = new Played(gig.Chart with { Looseness = 0, Parts = Laid(gig.Chart, LayBack.Lean) });

            Assert.Equal(straight.Notes.Select(Exactly), played.Notes.Select(Exactly));
            foreach (var sounded in played.Form.SelectMany(bar => bar.Notes))
            {
                Assert.Equal(sounded.LeanMicroseconds, sounded.OffsetMicroseconds);
                Assert.InRange(sounded.LeanMicroseconds, sounded.Role is Role.Tune or Role.Sustain ? 40_000 : 0, sounded.Role is Role.Tune or Role.Sustain ? 80_000 : 0);
                Assert.Equal(Span.Zero, sounded.Written.Late);
            }
        },
        iter: 30);

    [Fact]
    public void Lean_OfATune_IsSteadyInAPhraseAndDiffersBetweenPhrases()
    {
        var chart = Song(LayBack.Lean, Phrases());
        var leans = new Played(chart, Exact).Form.SelectMany(bar => bar.Notes).Where(note => note.Role == Role.Tune).Select(note => note.LeanMicroseconds).Chunk(4).ToList();

        Assert.All(leans, phrase => Assert.Single(phrase.Distinct()));
        Assert.True(leans.Select(phrase => phrase[0]).Distinct().Count() > 4);
        var other = new Played(chart with { Seed = 77 }, Exact).Form.SelectMany(bar => bar.Notes).Where(note => note.Role == Role.Tune).Select(note => note.LeanMicroseconds).ToList();
        Assert.NotEqual(leans.SelectMany(phrase => phrase), other);
    }

    [Fact]
    public void Lean_OfASustain_MovesItsSwellWithItsNotes()
    {
        var chart = Sheet.Chart(Sheet.Section("A", Sheet.Bars("5/8 3+2", "Am", "G", "F", "E7"))) with
        {
            Parts = [Players.Sustain(new SustainSettings { LaidBack = LayBack.Lean })],
            Looseness = 0,
        };
        var bars = new Played(chart, Exact).Form.ToList();

        Assert.Equal(
            bars.SelectMany(bar => bar.Notes).Select(note => note.LeanMicroseconds).Distinct(),
            bars.SelectMany(bar => bar.Controls).Select(point => point.OffsetMicroseconds).Distinct());
    }

    // A third: more, and the late ones are the beat.
    [Theory]
    [InlineData(LayBack.Half)]
    [InlineData(LayBack.Unit)]
    public void WrittenDelays_AnyChart_AreOnAThirdOfTheGroupStartsAtMost(LayBack by) => Gigs.Steady.Sample(
        gig =>
        {
            var played = new Played(gig.Chart with { Looseness = 0, Parts = Laid(gig.Chart, by) }, Exact);
            foreach (var run in played.Form.GroupBy(bar => BandRules.RunOf(played, bar)))
            {
                var starts = run.SelectMany(bar => FeltLevel.Group.BeatsIn(bar.Meter, bar.GroupPlace).Select(beat => bar.Start + beat)).ToHashSet();
                var sung = run.SelectMany(bar => bar.Notes.Where(note => note.Role == Role.Tune && note.Written.Ornament is null)
                    .Select(note => (Place: bar.Start + note.Written.Onset, note.Written.Late))).Where(note => starts.Contains(note.Place)).ToList();
                var late = sung.Count(note => note.Late > Span.Zero);
                Assert.True(late <= 0.35 * sung.Count, $"{late} of {sung.Count}");
                var held = run.SelectMany(bar => bar.Notes.Where(note => note.Role == Role.Sustain && note.Written.Late > Span.Zero)
                    .Select(note => bar.Start + note.Onset)).Distinct().Count();
                Assert.True(held <= 0.35 * starts.Count, $"{held} of {starts.Count}");
            }
        },
        iter: 40);

    [Fact]
    public void WrittenDelays_OfALongTune_AreThere()
    {
        var played = new Played(Song(LayBack.Half, Phrases()), Exact);
        Assert.InRange(played.Of(Role.Tune).Count(note => note.Note.Written.Late > Span.Zero), 3, 30);
    }

    // Laid back, the consonant keeps the beat and is held until the vowel.
    [Theory]
    [InlineData(20)]
    [InlineData(60)]
    [InlineData(120)]
    [InlineData(240)]
    [InlineData(500)]
    public void HeldConsonant_AtAnyTempo_ReachesItsVowel(int tempo)
    {
        foreach (var by in new[] { LayBack.Half, LayBack.Unit, LayBack.Lean })
        {
            var chart = Song(by, Phrases()) with { Tempo = new TempoMark(TempoLevel.Note, Span.Of(1, 8), tempo), Looseness = 1 };
            var bars = new Played(chart, Exact).Form.ToList();
            var marks = 0;
            foreach (var bar in bars)
            {
                foreach (var mark in bar.Notes.Where(note => note.Written.Ornament is { Kind: OrnamentKind.HeldConsonant }))
                {
                    marks++;
                    var vowel = Assert.Single(bar.Notes, note => note.Written.Ornament is null && note.Written.Onset == mark.Written.Onset);
                    var silence = bar.Tempi[0].Tempo.Seconds(vowel.Onset - mark.End).ToDouble() + ((vowel.OffsetMicroseconds - mark.OffsetMicroseconds) / 1e6);
                    Assert.InRange(silence, -0.02, 0.02);
                    Assert.True(bar.Tempi[0].Tempo.Seconds(mark.Length).ToDouble() <= 0.26);
                }
            }

            Assert.Equal(by != LayBack.Lean, marks > 0);
        }
    }

    private static ComposerOptions Exact => new() { CountIn = false };

    private static (Span, Span, int, int, int) Exactly(Sounded sounded) =>
        (sounded.Note.Onset, sounded.Note.Length, sounded.Note.Key, sounded.Note.Velocity, sounded.Note.Part);

    private static IReadOnlyList<Part> Laid(Chart chart, LayBack by) =>
    [
        .. chart.Parts.Select(part => part.Settings switch
        {
            TuneSettings tune => part with { Settings = tune with { LaidBack = by } },
            SustainSettings sustain => part with { Settings = sustain with { LaidBack = by } },
            _ => part,
        }),
    ];

    // Sixteen bars; a phrase of four notes in each, the words of which begin with held consonants.
    private static Tune Phrases()
    {
        var unit = Span.Of(1, 8);
        var notes = Enumerable.Range(0, 16).SelectMany(bar => new[] { (0, 3), (3, 2), (5, 2), (7, 2) }
            .Select((place, i) => new TuneNote(unit * ((bar * 10) + place.Item1), unit * place.Item2, Pitch.FromMidi(69 + i), []))).ToList();
        return Tune.Of(notes, [[.. notes.Select(_ => (Syllable?)new Syllable("la", SyllablePlace.Single, 1))]], Bars());
    }

    private static ChartBar[] Bars() => Sheet.Bars("10/8 3+2+3+2", [.. Enumerable.Repeat("Am", 16)]);

    private static Chart Song(LayBack by, Tune tune) => Sheet.Chart(Sheet.Section("A", Bars()) with { Tune = tune }) with
    {
        Parts = [Players.Tune(new TuneSettings { LaidBack = by, Consonants = true })],
        Looseness = 0,
        Ending = false,
    };
}
