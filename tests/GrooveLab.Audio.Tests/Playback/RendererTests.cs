using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.BuiltInSounds;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;
using Xunit;
using static GrooveLab.Audio.Tests.Playback.PlaybackHelp;
using static GrooveLab.Audio.Tests.Playback.TestBars;

namespace GrooveLab.Audio.Tests.Playback;

public sealed class RendererTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("rendering").FullName;

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData(48_000, 2)]
    [InlineData(44_100, 0)]
    [InlineData(8_000, 0.37)]
    public void RenderMix_AnyRateAndTail_HasExactlyTheComputedLength(int rate, double tail)
    {
        // 5/8 at eighth = 300 and 7/8 at 317: 5·60/300 s and 7·60/317 s, each counted from a whole frame.
        var other = Tempo.Of(Span.Of(1, 8), 317);
        var source = Of([Units(5, 8, Brisk), Units(7, 8, other)]);
        var options = new RenderOptions { SampleRate = rate, TailSeconds = tail };

        var file = new Renderer(sampleRate => new RecordingSynth(sampleRate)).RenderMix(source, PathOf("mix.wav"), options, cancellation: Cancellation);

        var expected = (long)Math.Round(0.2 * rate) + rate + (long)Math.Round(7 * 60.0 / 317 * rate) + (long)Math.Round(tail * rate);
        Assert.Equal(expected, file.Frames);
        Assert.Equal(expected, WaveFile.Read(file.Path).Frames);
        Assert.Equal(expected, Renderer.FramesOf(source, options));
    }

    [Fact]
    public void RenderStems_AddUpToTheMix()
    {
        var renderer = new Renderer(rate => new RecordingSynth(rate));
        var options = new RenderOptions { MasterDecibels = -24, File = new SoundFileOptions { Depth = WaveDepth.TwentyFour } };

        var mix = WaveFile.Read(renderer.RenderMix(EngineContractTests.Song(), PathOf("mix.wav"), options, cancellation: Cancellation).Path);
        var stems = renderer.RenderStems(EngineContractTests.Song(), _folder, options, cancellation: Cancellation).Select(file => WaveFile.Read(file.Path)).ToList();

        Assert.Equal(3, stems.Count);
        Assert.All(stems, stem => Assert.Equal(mix.Frames, stem.Frames));
        Assert.Contains(mix.Samples, sample => Math.Abs(sample) > 0.01);
        for (var i = 0; i < mix.Samples.Length; i++)
        {
            // Half a step of 24 bits for each of the four files.
            Assert.Equal(mix.Samples[i], stems.Sum(stem => stem.Samples[i]), 4 * 0.5 / (1 << 23) * 1.01);
        }
    }

    [Fact]
    public void RenderMix_OnlyAndWithout_LeaveTheOthersOut()
    {
        var synths = new List<RecordingSynth>();
        var renderer = new Renderer(rate =>
        {
            synths.Add(new RecordingSynth(rate));
            return synths[^1];
        });

        renderer.RenderMix(EngineContractTests.Song(), PathOf("a.wav"), new RenderOptions { Only = ["One", "click"] }, cancellation: Cancellation);
        renderer.RenderMix(EngineContractTests.Song(), PathOf("b.wav"), new RenderOptions { Without = ["two"] }, cancellation: Cancellation);

        Assert.All(synths, synth => Assert.Equal([0, 9], synth.Ons.Select(on => on.Channel).Distinct().Order()));
        Assert.Equal(synths[0].Calls, synths[1].Calls);
    }

    [Fact]
    public void RenderMix_UnknownPart_NamesTheOnesThereAre()
    {
        var renderer = new Renderer(rate => new RecordingSynth(rate));

        var error = Assert.Throws<ArgumentException>(
            () => renderer.RenderMix(EngineContractTests.Song(), PathOf("a.wav"), new RenderOptions { Only = ["tuba"] }, cancellation: Cancellation));

        Assert.All(EngineContractTests.Song().Band, part => Assert.Contains($"{part.Name} (", error.Message, StringComparison.Ordinal));
        Assert.Empty(Directory.GetFiles(_folder));
    }

    [Fact]
    public void RenderMix_EndlessSource_IsRefused()
    {
        var renderer = new Renderer(rate => new RecordingSynth(rate));

        Assert.Throws<ArgumentException>(
            () => renderer.RenderMix(EngineContractTests.Song(endless: true), PathOf("a.wav"), new RenderOptions(), cancellation: Cancellation));
    }

    [Fact]
    public void RenderMix_Cancelled_LeavesNothing()
    {
        using var cancellation = new CancellationTokenSource();
        var progress = new Cancelling(cancellation);
        var renderer = new Renderer(rate => new RecordingSynth(rate));

        Assert.Throws<OperationCanceledException>(
            () => renderer.RenderMix(EngineContractTests.Song(), PathOf("a.wav"), new RenderOptions(), progress, cancellation.Token));

        Assert.Empty(Directory.GetFiles(_folder));
        Assert.InRange(progress.Last, 0.5, 0.7);
    }

    [Fact]
    public void RenderMix_Progress_RisesToOne()
    {
        var seen = new List<double>();
        new Renderer(rate => new RecordingSynth(rate)).RenderStems(
            EngineContractTests.Song(), _folder, new RenderOptions(), new Collecting(seen), Cancellation);

        Assert.Equal(seen.Order(), seen);
        Assert.Equal(1, seen[^1]);
        Assert.True(seen.Count > 20);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(441)]
    public void Read_BuiltInBankWetAndChopped_IsBitIdentical(int frames)
    {
        float[] Play(int chop)
        {
            var player = new OfflinePlayer(BarRoute.Whole(BandSong(2)), Synth(dry: false), new EngineOptions { TailSeconds = 0.5 });
            return ReadAll(player, () => chop);
        }

        Assert.Equal(Play(4096), Play(frames));
    }

    [Fact]
    public void Read_BuiltInBankDry_OnsetAndReleaseAreTheFirstFramesThatDiffer()
    {
        // Rule: onsets and releases land on their exact frame: the first sample that differs from the same dry render without that event.
        var with = Dry(Note(Span.Of(1, 8), Span.Of(1, 8), key: 55), Note(Span.Of(3, 8), Span.Of(3, 32), key: 62, offset: 1234));
        var without = Dry(Note(Span.Of(1, 8), Span.Of(1, 8), key: 55));
        var longer = Dry(Note(Span.Of(1, 8), Span.Of(1, 8), key: 55), Note(Span.Of(3, 8), Span.Of(1, 8), key: 62, offset: 1234));

        // 9600 + 3·9600 and 1.234 ms (59.2 frames); the release comes three quarters of an eighth later.
        Assert.Equal(9600 + 28_800 + 59, FirstDifference(with, without));
        Assert.Equal(9600 + 28_800 + 59 + 7200, FirstDifference(with, longer));
    }

    [Fact]
    public void Read_BuiltInBankWarm_AllocatesNothing()
    {
        var synth = Synth(dry: false);
        foreach (var part in Band)
        {
            synth.Prepare(part.Channel, part.Instrument.Program);
        }

        synth.WarmUp();
        var engine = new GrooveEngine(synth, new EngineOptions());
        var bars = new BarPreparer(engine, BarRoute.Whole(BandSong(2, endless: true)));
        var mix = new StartGain(new LimitedMix(engine, new Limiter(Rate)));
        var block = new float[2 * 480];
        for (var i = 0; i < 500; i++)
        {
            bars.Fill();
            mix.Read(block);
        }

        using var audio = new AudioThreadStandIn(mix, 480);
        for (var i = 0; i < 2500; i++)
        {
            bars.Fill();
            audio.Read();
        }

        Assert.Equal(0, audio.AllocatedBytes);
        Assert.Equal(default, engine.Counters);
    }

    private static readonly PartChannels[] Band =
    [
        BandPart("one", 0, program: 24),
        BandPart("two", 1, level: -3, pan: 30, program: 40, technique: Music.Band.Technique.Bow),
    ];

    private static SoundFontSynth Synth(bool dry) =>
        new(SoundFontBank.Load(BankUnderTest.Instance.Bytes, "built-in"), Rate, new SoundFontSynthOptions { Dry = dry });

    private static TestBars BandSong(int bars, bool endless = false) => Of(
        [.. Enumerable.Range(0, bars).Select(i => Bar(
            5,
            8,
            Brisk,
            [
                .. Enumerable.Range(0, 10).Select(half => Note(Span.Of(half, 16), Span.Of(1, 16), 50 + half, 0, 60 + half, 700 * half)),
                Note(Span.Zero, Span.Of(5, 8), 55, 1, 70),
            ]))],
        Band,
        endless: endless);

    private static float[] Dry(params NoteEvent[] notes)
    {
        var source = Of([Bar(6, 8, Brisk, notes)], Band);
        return ReadAll(new OfflinePlayer(BarRoute.Whole(source), Synth(dry: true), new EngineOptions(), limited: false));
    }

    private static int FirstDifference(float[] a, float[] b) =>
        Enumerable.Range(0, a.Length).First(i => a[i] != b[i]) / 2;

    private string PathOf(string name) => Path.Combine(_folder, name);

    private sealed class Cancelling(CancellationTokenSource source) : IProgress<double>
    {
        public double Last { get; private set; }

        public void Report(double value)
        {
            Last = value;
            if (value > 0.5)
            {
                source.Cancel();
            }
        }
    }

    private sealed class Collecting(List<double> seen) : IProgress<double>
    {
        public void Report(double value) => seen.Add(value);
    }
}
