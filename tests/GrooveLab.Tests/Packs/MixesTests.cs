using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using Xunit;

namespace GrooveLab.Tests.Packs;

/// <summary>Mixes that are made together from parts played once, compared with the same mixes rendered alone.</summary>
public sealed class MixesTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("mixes").FullName;
    private readonly BarComposer _band = new(ChartReader.ReadText(DemoChart.Text, "demo").Chart!, new ComposerOptions { Bars = 6 });
    private readonly Renderer _renderer;

    public MixesTests()
    {
        var bank = Banks.OpenBuiltIn();
        _renderer = new Renderer(rate => Banks.Synth(bank, rate, _band.Band, dry: false));
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData(-14)]
    [InlineData(6)]
    public void RenderMixes_DemoSong_DifferFromMixesRenderedAloneByRoundingOnly(double master)
    {
        var options = new RenderOptions { MasterDecibels = master, File = new SoundFileOptions { Depth = WaveDepth.TwentyFour } };
        var left = _band.Band[0].Name;
        var together = _renderer.RenderMixes(
            _band,
            [new MixFile(At("all"), _ => true, options.File), new MixFile(At("without"), part => part.Name != left, options.File)],
            options,
            workers: 2,
            cancellation: Cancellation);

        AssertSame(_renderer.RenderMix(_band, At("all alone"), options, cancellation: Cancellation), together[0]);
        AssertSame(_renderer.RenderMix(_band, At("without alone"), options with { Without = [left] }, cancellation: Cancellation), together[1]);
        Assert.NotEqual(File.ReadAllBytes(together[0].Path), File.ReadAllBytes(together[1].Path));
    }

    [Fact]
    public void RenderMixes_AnyNumberOfWorkers_WritesTheSameBytes()
    {
        var one = Mixes("one", 1);
        var three = Mixes("three", 3);
        Assert.Equal(File.ReadAllBytes(one[0].Path), File.ReadAllBytes(three[0].Path));
        Assert.Equal(File.ReadAllBytes(one[1].Path), File.ReadAllBytes(three[1].Path));
        Assert.Equal(Renderer.FramesOf(_band, new RenderOptions()), one[0].Frames);
        Assert.Equal(one[0].Frames, WaveFile.Read(one[0].Path).Frames);
    }

    [Fact]
    public void RenderMixes_Cancelled_LeavesNoFile()
    {
        using var stop = new CancellationTokenSource();
        Assert.Throws<OperationCanceledException>(() => _renderer.RenderMixes(
            _band, [new MixFile(At("all"), _ => true, new SoundFileOptions())], new RenderOptions(), 2, new Stopping(stop), stop.Token));
        Assert.Empty(Directory.GetFileSystemEntries(_folder));
    }

    private IReadOnlyList<RenderedFile> Mixes(string name, int workers) => _renderer.RenderMixes(
        _band,
        [
            new MixFile(At(name + " all"), _ => true, new SoundFileOptions()),
            new MixFile(At(name + " bass"), part => part.Role == Music.Band.Role.Bass, new SoundFileOptions()),
        ],
        new RenderOptions(),
        workers,
        cancellation: Cancellation);

    private string At(string name) => Path.Combine(_folder, name + ".wav");

    private static void AssertSame(RenderedFile expected, RenderedFile actual)
    {
        Assert.Equal(expected.PeakDecibels, actual.PeakDecibels, 0.01);
        var (one, other) = (WaveFile.Read(expected.Path), WaveFile.Read(actual.Path));
        Assert.Equal(one.Frames, other.Frames);
        Assert.Contains(one.Samples, sample => Math.Abs(sample) > 0.05);

        // -120 dB, and half a step of 24 bits for each of the two files.
        var most = 0.0;
        for (var i = 0; i < one.Samples.Length; i++)
        {
            most = Math.Max(most, Math.Abs(one.Samples[i] - other.Samples[i]));
        }

        Assert.InRange(most, 0, 1e-6 + (1.01 / (1 << 23)));
    }

    private sealed class Stopping(CancellationTokenSource stop) : IProgress<double>
    {
        public void Report(double value) => stop.Cancel();
    }
}
