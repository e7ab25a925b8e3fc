using System.Buffers.Binary;
using System.Diagnostics;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.Synthesis;
using GrooveLab.Testing;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Banks of 24-bit points (SoundFont 2.04, section 6.2) and of Vorbis streams.</summary>
public class DeepAndCompressedTests
{
    [Theory]
    [InlineData(Interpolation.FourPoint)]
    [InlineData(Interpolation.EightPoint)]
    public void Load_LowBits_AreHeard(Interpolation interpolation)
    {
        // All upper bits are zero: the sound is only in the lower eight, half of the smallest 16-bit step.
        var sound = Play(DeepFile(new short[128], 128), KernelWidth.Best, interpolation);

        Assert.Equal(0.5 / 32768, sound[^1], 1e-8);
    }

    [Fact]
    public void Render_DeepPoints_EveryKernelSaysTheSame()
    {
        var random = new Random(3);
        var file = DeepFile([.. Enumerable.Range(0, 128).Select(_ => (short)random.Next(-3, 3))], 77);
        var truth = Play(file, KernelWidth.Scalar, Interpolation.FourPoint);

        foreach (var width in new[] { KernelWidth.Vector128, KernelWidth.Vector256, KernelWidth.Vector512 })
            Assert.All(truth.Zip(Play(file, width, Interpolation.FourPoint)), pair => Assert.Equal(pair.First, pair.Second, 1e-9));
    }

    [Fact]
    public void Load_LowBitsTooShort_AreIgnored()
    {
        var builder = new BankBuilder { LowBits = new byte[10] };
        Add(builder, builder.AddSample(TestBanks.ConstantPoints(), loopStart: 16, loopEnd: 112));

        Assert.Equal(0.5, Play(builder.Build(), KernelWidth.Best, Interpolation.FourPoint)[^1], 1e-4);
    }

    [Fact]
    public void Load_VorbisStream_PlaysItsToneAndLoops()
    {
        // Three seconds of 440 Hz; the loop is whole cycles, well inside.
        var builder = new BankBuilder();
        Add(builder, builder.AddCompressed(Tone(), 48000, 69, 12000, 12000 + (1200 * 60)));
        var synth = Playing.Dry(TestBanks.Load(builder.Build()));
        synth.NoteOn(0, 69, 127);
        synth.Left(Playing.Frames(5));
        var sound = synth.Left(Playing.Frames(0.5));

        Assert.Equal(0, Playing.Cents(Playing.Frequency(sound, 440), 440), 0.5);
        Assert.Equal(1, Playing.Amplitude(sound, 440), 0.03);
    }

    [Fact]
    public void Prepare_BrokenVorbisStream_IsRefusedWithItsPlace()
    {
        var builder = new BankBuilder();
        Add(builder, builder.AddCompressed(new byte[500], 48000, 69, 0, 0));
        var bank = TestBanks.Load(builder.Build());

        var problem = Assert.Throws<SoundFontException>(() => bank.Prepare(bank.Presets[0]));
        Assert.Contains("preset 0:0", problem.Place, StringComparison.Ordinal);
        Assert.Contains("sample vorbis: its Vorbis stream cannot be decoded", problem.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Prepare_OneOfTwoVorbisStreamsIsBroken_PlaysTheOtherAndSaysSo()
    {
        var builder = new BankBuilder();
        var (broken, whole) = (builder.AddCompressed(new byte[500], 48000, 69, 0, 0), builder.AddCompressed(Tone(), 48000, 69, 100, 2000));
        var instrument = builder.AddInstrument(TestBanks.Sounding(new Zone(), broken, 1), TestBanks.Sounding(new Zone(), whole, 1));
        builder.AddPreset(0, 0, "test", new Zone((GeneratorEnum.Instrument, instrument)));
        var bank = TestBanks.Load(builder.Build());
        Assert.Empty(bank.LeftOut);

        Assert.Single(bank.Resolve(bank.Presets[0]).Regions);
        Assert.StartsWith("A sample is left out: test.sf2: sample vorbis: its Vorbis stream cannot be decoded", Assert.Single(bank.LeftOut), StringComparison.Ordinal);
    }

    // A damaged bank may name the same bytes in many headers; trying each would take for ever.
    [Fact]
    public void Prepare_BrokenStreamsThatOverlap_AreNotAllTried()
    {
        var builder = new BankBuilder();
        var broken = builder.AddCompressed(new byte[5000], 48000, 69, 0, 0);
        for (var i = 1; i < 5; i++)
            builder.AddCompressed(new byte[2], 48000, 69, 0, 0);
        builder.AddPreset(0, 0, "test", new Zone((GeneratorEnum.Instrument, builder.AddInstrument([.. Enumerable.Range(0, 5).Select(i => TestBanks.Sounding(new Zone(), broken + i, 1))]))));
        var file = builder.Build();
        // Start of all, then ends that differ by a byte (section 7.10).
        var at = file.AsSpan().IndexOf("shdr"u8) + 8;
        for (var i = 1; i < 5; i++)
        {
            BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(at + (46 * i) + 20), 0);
            BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(at + (46 * i) + 24), 5000 - i);
        }

        var bank = TestBanks.Load(file);
        var problem = Assert.Throws<SoundFontException>(() => bank.Prepare(bank.Presets[0]));

        Assert.Contains("nor can many others", problem.Reason, StringComparison.Ordinal);
    }

    [Fact]
    public void Prepare_MutatedVorbisStreams_AreRefusedOrPlay()
    {
        var stream = Tone();
        for (var seed = 0; seed < 60; seed++)
        {
            var random = new Random(seed);
            var mutated = (byte[])stream.Clone();
            for (var i = 0; i < 3; i++)
                mutated[random.Next(mutated.Length / (1 + (seed % 8)))] = (byte)random.Next(256);
            var builder = new BankBuilder();
            Add(builder, builder.AddCompressed(mutated, 48000, 69, 100, 2000));
            try
            {
                var synth = Playing.Dry(TestBanks.Load(builder.Build()));
                synth.NoteOn(0, 69, 127);
                Assert.All(synth.Left(500), v => Assert.True(float.IsFinite(v)));
            }
            catch (SoundFontException problem)
            {
                Assert.NotEmpty(problem.Reason);
            }
        }
    }

    private static byte[] DeepFile(short[] points, byte low)
    {
        var builder = new BankBuilder();
        Add(builder, builder.AddSample(points, loopStart: 16, loopEnd: 112));
        builder.LowBits = [.. Enumerable.Repeat(low, points.Length), .. new byte[46]];
        return builder.Build();
    }

    private static void Add(BankBuilder builder, int sample)
    {
        var instrument = builder.AddInstrument(TestBanks.Sounding(new Zone(), sample, 1));
        builder.AddPreset(0, 0, "test", new Zone((GeneratorEnum.Instrument, instrument)));
    }

    private static float[] Play(byte[] file, KernelWidth width, Interpolation interpolation)
    {
        // With this gain a full-scale point in the middle gives 1.
        var synth = new SoundFontSynth(TestBanks.Load(file), Playing.Rate, new SoundFontSynthOptions
        {
            Dry = true,
            Gain = MathF.Sqrt(2),
            Kernel = width,
            Interpolation = interpolation,
        });
        synth.Control(0, 7, 127);
        synth.NoteOn(0, 67, 127);
        return synth.Left(2000);
    }

    /// <summary>A sine of half of full scale, encoded by Debian's <c>sox</c>.</summary>
    private static byte[] Tone()
    {
        var command = References.RequireTool("sox");
        var path = Path.Combine(Path.GetTempPath(), $"groovelab-tone-{Guid.NewGuid():N}.ogg");
        string[] arguments = ["-D", "-n", "-r", "48000", "-c", "1", "-C", "9", path, "synth", "3", "sine", "440", "vol", "0.5"];
        using var process = Process.Start(new ProcessStartInfo(command, arguments) { UseShellExecute = false, RedirectStandardError = true })!;
        var errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        References.Require(process.ExitCode == 0, $"this sox cannot write Vorbis:  {errors}");
        try
        {
            return File.ReadAllBytes(path);
        }
        finally
        {
            File.Delete(path);
        }
    }
}
