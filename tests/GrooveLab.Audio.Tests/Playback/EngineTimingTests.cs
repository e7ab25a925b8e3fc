using System.Numerics;
using CsCheck;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class EngineTimingTests
{
    private const long PreRoll = 9600;

    [Fact]
    public void Read_FirstBarLine_StandsAfterPreRollAndLeadIn()
    {
        // Two bars of 4/4 at a quarter = 120 last 4 s; after 0.2 s of pre-roll bar 0 begins at 4.2 s.
        var tempo = Tempo.Of(Span.Of(1, 4), 120);
        var source = Of([Bar(8, 4, tempo), Bar(4, 4, tempo, Note(Span.Zero, Span.Of(1, 4)))], leadIns: 1);
        var synth = new RecordingSynth();

        var samples = ReadAll(Player(source, synth));

        Assert.Equal(201_600, Assert.Single(synth.Ons).Frame);
        Assert.Equal(201_600 + 96_000 + 96_000, samples.Length / 2);
    }

    [Fact]
    public void Read_FiveEightAtBar55_PutsEighthsWhereArithmeticSays()
    {
        // Common practice, no source: a bar of 5/8 at bar = 55 has eighths of 218.18 ms, 10472.7 frames.
        var tempo = Tempo.Of(Span.Of(5, 8), 55);
        var synth = new RecordingSynth();

        ReadAll(Player(Of([Units(5, 8, tempo)]), synth));

        Assert.Equal([9600, 9600 + 10_473, 9600 + 20_945, 9600 + 31_418, 9600 + 41_891], synth.Ons.Select(on => on.Frame));
    }

    [Fact]
    public void Read_TenThousandBarsOfSevenTwelveAtAnOddTempo_DoesNotDrift()
    {
        // A tempo whose bar is not a whole number of frames: 7/12 at 271.3 whole notes per minute.
        var tempo = new Tempo(new Rational(2713, 10));
        var source = Of([Bar(7, 12, tempo, Note(Span.Of(1, 36), Span.Of(1, 24)))], endless: true);
        var synth = new RecordingSynth(8000) { Records = true };
        var player = new OfflinePlayer(
            new BarRoute(source, 0, Until: 10_000), synth, new EngineOptions { SampleRate = 8000 }, limited: false);

        ReadAll(player);

        var ons = synth.Ons.ToList();
        Assert.Equal(10_000, ons.Count);
        for (var bar = 0; bar < ons.Count; bar++)
        {
            // (bar·7/12 + 1/36)·60·8000/(2713/10), rounded, in whole numbers.
            var above = ((BigInteger)bar * 21 + 1) * 60 * 8000 * 10;
            var below = (BigInteger)36 * 2713;
            var nearest = BigInteger.Divide((2 * above) + below, 2 * below);
            Assert.Equal(1600 + (long)nearest, ons[bar].Frame);
        }
    }

    [Fact]
    public void Read_AnyMetersAndTempi_PutsEveryOnsetOnItsFrame()
    {
        var bars = Gen.Select(
            Gen.Int[1, 17],
            OneOf(1, 2, 3, 4, 5, 7, 8, 9, 11, 12, 13, 16, 32, 64),
            Gen.Int[20, 400],
            Gen.Int[1, 97],
            Gen.Int[1, 4])
            .Select((numerator, denominator, tempo, below, steps) => RampedBar(numerator, denominator, tempo, below, steps));
        bars.Array[1, 12].Sample(
            made =>
            {
                var source = Of(made);
                var synth = new RecordingSynth();
                ReadAll(Player(source, synth, new EngineOptions { TailSeconds = 0.1 }));
                Assert.Equal(ExpectedFrames(source), synth.Ons.Select(on => on.Frame));
            },
            iter: 25,
            threads: 1);
    }

    [Fact]
    public void Read_FeelSpreadAndOverlap_MoveOnsetsAndReleasesApart()
    {
        var tempo = Tempo.Of(Span.Of(1, 4), 120);
        var source = Of(
        [
            Bar(
                4,
                4,
                tempo,
                Note(Span.Zero, Span.Of(1, 4), key: 60, offset: -50_000, spread: 9_000, overlap: 40_000),
                Note(Span.Zero, Span.Of(1, 4), key: 64, offset: 10_010, spread: -5_000)),
        ]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        // -41 ms is 1968 frames early; 5.01 ms is 240.48 frames late. Ends: half a second on, -10 ms and +10.01 ms (480.48).
        Assert.Equal([(60, PreRoll - 1968), (64, PreRoll + 240)], synth.Ons.Select(on => (on.Key, on.Frame)));
        Assert.Equal([(60, PreRoll + 24_000 - 480), (64, PreRoll + 24_000 + 480)], synth.Offs.Select(off => (off.Key, off.Frame)));
    }

    [Fact]
    public void Read_NegativeOffset_CrossesTheBarLine()
    {
        var source = Of([Units(3, 8, Brisk), Bar(3, 8, Brisk, Note(Span.Zero, Span.Of(1, 8), key: 72, offset: -90_000))]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        Assert.Equal(PreRoll + 28_800 - 4320, synth.Ons.Single(on => on.Key == 72).Frame);
    }

    [Fact]
    public void Read_NoteShorterThanAFrame_LastsOne()
    {
        var source = Of([Bar(4, 4, Brisk, Note(Span.Zero, Span.Of(1, 4), offset: 1000, overlap: -900_000))]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        Assert.Equal(synth.Ons.Single().Frame + 1, synth.Offs.Single().Frame);
    }

    [Fact]
    public void Read_KeyStruckAgain_IsLetGoFirstAndBelongsToTheLaterNote()
    {
        // The first note would last the whole bar; the second, on the same key, begins in the middle and ends earlier.
        var source = Of([Bar(4, 4, Brisk, Note(Span.Zero, Span.Of(4, 4)), Note(Span.Of(1, 4), Span.Of(1, 4)))]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        var calls = synth.Calls.Where(call => call.Kind is CallKind.On or CallKind.Off).Select(call => (call.Kind, call.Frame));
        Assert.Equal(
            [(CallKind.On, PreRoll), (CallKind.Off, PreRoll + 19_200), (CallKind.On, PreRoll + 19_200), (CallKind.Off, PreRoll + 38_400)],
            calls);
        AssertNothingHangs(synth);
    }

    [Fact]
    public void Read_EndsAndBeginningsOnOneFrame_EndFirst()
    {
        var bars = Enumerable.Range(0, 40).Select(i => Units(5, 8, Brisk, key: 60 + (i % 2))).ToList();
        var synth = new RecordingSynth();

        ReadAll(Player(Of(bars), synth));

        AssertNothingHangs(synth);
        Assert.Equal(200, synth.Ons.Count());
        foreach (var frame in synth.Calls.GroupBy(call => call.Frame))
        {
            var kinds = frame.Where(call => call.Kind is CallKind.On or CallKind.Off).Select(call => call.Kind).ToList();
            Assert.Equal(kinds.OrderByDescending(kind => kind), kinds);
        }
    }

    [Fact]
    public void Read_NoteOverTheEnd_IsLetGoAtTheEnd()
    {
        var source = Of([Bar(1, 4, Brisk, Note(Span.Zero, Span.Of(30, 1)))]);
        var synth = new RecordingSynth();

        var player = Player(source, synth);
        ReadAll(player);

        Assert.Equal(PreRoll + 19_200, synth.Offs.Single().Frame);
        Assert.Equal(0, player.Engine.NotesDown);
        Assert.Contains(Reports(player), report => report is { Kind: EngineReportKind.Ended, Frame: PreRoll + 19_200 });
    }

    [Fact]
    public void Read_TempoChangeUnderANote_EndsItWhereItsPlaceIs()
    {
        var fast = Tempo.Of(Span.Of(1, 4), 240);
        var source = Of([Bar(4, 4, [(Span.Zero, Brisk), (Span.Of(2, 4), fast)], [Note(Span.Of(1, 4), Span.Of(2, 4))])]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        // A quarter at eighth = 300 lasts 19200 frames, at quarter = 240 12000.
        Assert.Equal(PreRoll + 38_400 + 12_000, synth.Offs.Single().Frame);
    }

    [Fact]
    public void FramesOf_AnyBars_IsWhatTheEngineReads()
    {
        var bars = Gen.Select(Gen.Int[1, 9], OneOf(4, 8, 12, 16), Gen.Int[60, 400], Gen.Int[1, 7], Gen.Int[1, 3])
            .Select((numerator, denominator, tempo, below, steps) => RampedBar(numerator, denominator, tempo, below, steps));
        Gen.Select(bars.Array[1, 6], Gen.Int[0, 1], Gen.Double[0, 0.3]).Sample(
            (made, leadIns, tail) =>
            {
                var source = Of(made, leadIns: leadIns);
                var player = Player(source, new RecordingSynth(), new EngineOptions { TailSeconds = tail });
                Assert.Equal(Renderer.FramesOf(source, new RenderOptions { TailSeconds = tail }), ReadAll(player).Length / 2);
            },
            iter: 30,
            threads: 1);
    }

    [Fact]
    public void Read_PlacesTooFineForExactArithmetic_AreRoundedFarBelowAFrame()
    {
        // Denominators of large primes multiply beyond 64 bits within a few bars; the music must continue in time.
        int[] primes = [64, 61, 59, 53, 47, 43, 41, 37, 31, 29];
        var bars = Enumerable.Range(0, 60).Select(i => Units(7, primes[i % primes.Length], new Tempo(new Rational(40_000_001, 300_007))));
        var source = new Disconnected([.. bars]);
        var synth = new RecordingSynth();

        ReadAll(Player(source, synth));

        var expected = new List<double>();
        var wholes = 0.0;
        foreach (var bar in bars)
        {
            expected.AddRange(bar.Notes.Select(note => PreRoll + ((wholes + note.Onset.Wholes.ToDouble()) * 60 * Rate * 300_007 / 40_000_001)));
            wholes += bar.Length.Wholes.ToDouble();
        }

        Assert.Equal(expected.Count, synth.Ons.Count());
        Assert.All(expected.Zip(synth.Ons), pair => Assert.InRange(pair.Second.Frame - pair.First, -1, 1));
    }

    private static Gen<int> OneOf(params int[] values) => Gen.Int[0, values.Length - 1].Select(index => values[index]);

    private static Bar RampedBar(int numerator, int denominator, int tempo, int below, int steps)
    {
        var tempi = Enumerable.Range(0, Math.Min(steps, numerator))
            .Select(step => (Span.Of(step, denominator), Tempo.Of(Span.Of(1, 4), new Rational((tempo * below) + (7 * step), below))))
            .ToList();
        var notes = Enumerable.Range(0, 2 * numerator)
            .Select(half => Note(Span.Of(half, 2 * denominator), Span.Of(1, 2 * denominator), key: 40 + half))
            .ToList();
        return Bar(numerator, denominator, tempi, notes);
    }

    // The frames by the rule, from Music's own clock: anchored, and re-anchored on a whole frame at each tempo change.
    private static List<long> ExpectedFrames(IBarSource source)
    {
        var frames = new List<long>();
        var clock = new FrameClock(source.BarAt(source.First).Start, PreRoll, source.BarAt(source.First).Tempi[0].Tempo, Rate);
        for (var index = source.First; index < source.End; index++)
        {
            var bar = source.BarAt(index);
            foreach (var note in bar.Notes)
            {
                foreach (var (onset, tempo) in bar.Tempi)
                {
                    if (onset <= note.Onset && bar.Start + onset > clock.Anchor && tempo != clock.Tempo)
                    {
                        clock = new FrameClock(bar.Start + onset, clock.FrameAt(bar.Start + onset), tempo, clock.SampleRate);
                    }
                }

                frames.Add(clock.FrameAt(bar.Start + note.Onset));
            }
        }

        return frames;
    }

    // Bars without a position: the sum of such lengths would not fit a fraction of two 64-bit numbers.
    private sealed class Disconnected(IReadOnlyList<Bar> bars) : IBarSource
    {
        public int First => 0;

        public int? End => bars.Count;

        public IReadOnlyList<PartChannels> Band { get; } = [BandPart("one", 0)];

        public PieceHeading Heading => new("disconnected", bars[0].Key, [bars[0].Meter]);

        public Bar BarAt(int index) => bars[index] with { Index = index };
    }
}
