using System.Buffers.Binary;
using System.Diagnostics;
using CsCheck;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Files;
using GrooveLab.Testing;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Audio.Tests.SoundFiles;

public sealed class WaveFileTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory().FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData(WaveDepth.Sixteen)]
    [InlineData(WaveDepth.TwentyFour)]
    public void Write_Then_ReadGivesTheSoundWithinHalfAStep(WaveDepth depth) =>
        Gen.Float[-1.2f, 1.2f].Array[2, 400].Where(samples => samples.Length % 2 == 0).Sample(samples =>
        {
            var path = Path.Combine(_folder, $"{Guid.NewGuid():N}.wav");
            Save(path, new Sound(samples, 2), samples.Length / 2, depth);
            var read = WaveFile.Read(path);
            Assert.Equal((48000, 2, samples.Length), (read.SampleRate, read.Channels, read.Samples.Length));
            var step = Math.Pow(2, 1 - (int)depth);
            for (var i = 0; i < samples.Length; i++)
            {
                var kept = Math.Clamp(samples[i], -1, 1 - step);
                Assert.InRange(read.Samples[i], kept - (step / 2) - 1e-9, kept + (step / 2) + 1e-9);
            }
        }, iter: 100);

    // Source: Multimedia Programming Interface and Data Specifications 1.0, chapter 3 (WAVE form): RIFF, fmt, data; wFormatTag 1 is PCM.
    [Fact]
    public void Write_SmallFile_HasThePlainHeader()
    {
        var path = Path.Combine(_folder, "sound.wav");
        Save(path, new Sound([0.5f, -0.5f, 1f / 32768, 0], 2), 2);
        byte[] expected =
        [
            .. "RIFF"u8, 44, 0, 0, 0, .. "WAVE"u8, .. "fmt "u8, 16, 0, 0, 0, 1, 0, 2, 0, 0x80, 0xBB, 0, 0, 0, 0xEE, 2, 0, 4, 0, 16, 0,
            .. "data"u8, 8, 0, 0, 0, 0x00, 0x40, 0x00, 0xC0, 1, 0, 0, 0,
        ];
        Assert.Equal(expected, File.ReadAllBytes(path));
    }

    [Fact]
    public void Write_OddNumberOfBytes_IsPadded()
    {
        var path = Path.Combine(_folder, "sound.wav");
        Save(path, new Sound([0.25f], 1), 1, WaveDepth.TwentyFour);
        var bytes = File.ReadAllBytes(path);
        Assert.Equal(48, bytes.Length);
        Assert.Equal(40, BinaryPrimitives.ReadInt32LittleEndian(bytes.AsSpan(4)));
        Assert.Equal(3, BinaryPrimitives.ReadInt32LittleEndian(bytes.AsSpan(40)));
        Assert.Equal([0.25f], WaveFile.Read(path).Samples);
    }

    [Fact]
    public void Write_Silence_StaysSilence()
    {
        var path = Path.Combine(_folder, "sound.wav");
        Save(path, new Sound(new float[20_000], 2), 10_000);
        Assert.All(File.ReadAllBytes(path)[44..], value => Assert.Equal(0, value));
    }

    [Fact]
    public void Write_SourceThatEndsSooner_IsFilledUpWithSilence()
    {
        var path = Path.Combine(_folder, "sound.wav");
        Save(path, new Sound([0.5f, 0.5f], 2), 5000);
        var read = WaveFile.Read(path);
        Assert.Equal(5000, read.Frames);
        Assert.Equal(0.5f, read.Samples[1]);
        Assert.All(read.Samples[2..], sample => Assert.Equal(0, sample));
    }

    [Fact]
    public void Write_FileIsThere_IsKeptUnlessForced()
    {
        var path = Path.Combine(_folder, "sound.wav");
        File.WriteAllText(path, "mine");
        var refused = Assert.Throws<FileRefusedException>(() => Save(path, new Sound([0, 0], 2), 1));
        Assert.Equal(FileProblem.AlreadyExists, refused.Refusal.Problem);
        Assert.Equal("mine", File.ReadAllText(path));
        Assert.Single(Directory.GetFiles(_folder));

        Save(path, new Sound([0, 0], 2), 1, force: true);
        Assert.Equal(1, WaveFile.Read(path).Frames);
        Assert.Single(Directory.GetFiles(_folder));
    }

    [Fact]
    public void Commit_FileTurnsUpMeanwhile_IsKept()
    {
        var path = Path.Combine(_folder, "sound.wav");
        using (PcmWaveWriter writer = new(path, 48000, 2))
        {
            writer.Write([0.1f, 0.1f]);
            File.WriteAllText(path, "mine");
            Assert.Equal(FileProblem.AlreadyExists, Assert.Throws<FileRefusedException>(() => writer.Commit()).Refusal.Problem);
        }

        Assert.Equal("mine", File.ReadAllText(path));
        Assert.Single(Directory.GetFiles(_folder));
    }

    [Fact]
    public void Write_Cancelled_LeavesNothing()
    {
        using CancellationTokenSource cancel = new();
        var path = Path.Combine(_folder, "sound.wav");
        Assert.Throws<OperationCanceledException>(() => WaveFile.Write(
            path, new Sound(new float[2], 2), 1_000_000, progress: new Reaction(_ => cancel.Cancel()), cancellation: cancel.Token));
        Assert.Empty(Directory.GetFiles(_folder));
    }

    [Fact]
    public void Write_SourceThrows_LeavesNothingAndKeepsWhatWasThere()
    {
        var path = Path.Combine(_folder, "sound.wav");
        File.WriteAllText(path, "mine");
        Assert.Throws<InvalidOperationException>(() => Save(path, new Broken(), 1_000_000, force: true));
        Assert.Equal("mine", File.ReadAllText(path));
        Assert.Single(Directory.GetFiles(_folder));
    }

    [Fact]
    public void Write_MissingFolder_SaysSo() =>
        Assert.Equal(
            FileProblem.FolderMissing,
            Assert.Throws<FileRefusedException>(() => Save(Path.Combine(_folder, "none", "sound.wav"), new Sound([0, 0], 2), 1)).Refusal.Problem);

    [Fact]
    public void Write_Link_ReplacesTheFileItLeadsTo()
    {
        Assert.SkipWhen(OperatingSystem.IsWindows(), "Links need a privilege there.");
        var path = Path.Combine(_folder, "sound.wav");
        File.WriteAllText(path, "mine");
        File.CreateSymbolicLink(Path.Combine(_folder, "link.wav"), "sound.wav");

        Save(Path.Combine(_folder, "link.wav"), new Sound([0.5f, 0.5f], 2), 1, force: true);

        Assert.Equal(1, WaveFile.Read(path).Frames);
        Assert.Equal("sound.wav", new FileInfo(Path.Combine(_folder, "link.wav")).LinkTarget);
    }

    [Fact]
    public async Task Write_Pipe_GetsTheSameBytesAsAFile()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "A named pipe is made with Linux's tool.");
        var pipe = Path.Combine(_folder, "pipe");
        using (var made = Process.Start("mkfifo", [pipe]))
        {
            await made.WaitForExitAsync(TestContext.Current.CancellationToken);
        }

        var read = Task.Run(() => File.ReadAllBytes(pipe), TestContext.Current.CancellationToken);
        float[] samples = [.. Enumerable.Range(0, 20_000).Select(i => i / 40_000f)];
        Save(pipe, new Sound(samples, 2), 10_000);
        Save(Path.Combine(_folder, "sound.wav"), new Sound(samples, 2), 10_000);

        Assert.Equal(File.ReadAllBytes(Path.Combine(_folder, "sound.wav")), await read);
    }

    [Theory]
    [InlineData(2, WaveDepth.Sixteen, 1073741814)]
    [InlineData(2, WaveDepth.TwentyFour, 715827876)]
    [InlineData(1, WaveDepth.TwentyFour, 1431655752)]
    public void MostFrames_EachShape_FitsTheRiffSizeAndOneMoreDoesNot(int channels, WaveDepth depth, long most)
    {
        Assert.Equal(most, WaveFile.MostFrames(channels, depth));
        long Riff(long frames)
        {
            var data = frames * channels * ((int)depth / 8);
            return 36 + data + (data & 1);
        }

        Assert.True(Riff(most) <= uint.MaxValue);
        Assert.True(Riff(most + 1) > uint.MaxValue);
    }

    [Fact]
    public void Write_MoreThanFits_IsRefusedBeforeAnythingIsWritten()
    {
        var path = Path.Combine(_folder, "sound.wav");
        var refused = Assert.Throws<WaveFileTooLargeException>(
            () => Save(path, new Broken(), WaveFile.MostFrames(2, WaveDepth.Sixteen) + 1));
        Assert.Equal(WaveFile.MostFrames(2, WaveDepth.Sixteen), refused.MostFrames);
        Assert.Empty(Directory.GetFiles(_folder));
    }

    [Fact]
    public void Read_FloatFileWithOtherChunks_IsRead()
    {
        byte[] bytes =
        [
            .. "RIFF"u8, 60, 0, 0, 0, .. "WAVE"u8, .. "LIST"u8, 3, 0, 0, 0, 1, 2, 3, 0,
            .. "fmt "u8, 16, 0, 0, 0, 3, 0, 1, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 32, 0, .. "data"u8, 4, 0, 0, 0, 0, 0, 0x80, 0x3F,
        ];
        var read = WaveFile.Parse(bytes, "x");
        Assert.Equal((44100, 1), (read.SampleRate, read.Channels));
        Assert.Equal([1f], read.Samples);
    }

    [Fact]
    public void Parse_AnyBytes_ReadsOrSaysWhyNot()
    {
        var path = Path.Combine(_folder, "sound.wav");
        Save(path, new Sound([0.5f, -0.5f, 0.1f, 0], 2), 2);
        var good = File.ReadAllBytes(path);
        Gen.Select(Gen.Int[0, good.Length], Gen.Int[0, good.Length - 1], Gen.Byte).Sample((cut, at, value) =>
        {
            byte[] bytes = [.. good];
            bytes[at] = value;
            try
            {
                _ = WaveFile.Parse(bytes.AsSpan(0, cut), "x");
            }
            catch (InvalidDataException)
            {
                // The only accepted way to refuse.
            }
        }, iter: 5000);
    }

    // Source: sox, an independent reader.
    [Fact]
    public void Write_EachDepth_IsReadAlikeBySox()
    {
        var sox = References.RequireTool("sox");
        float[] samples = [.. Enumerable.Range(0, 2000).Select(i => 0.9f * MathF.Sin(i * 0.05f))];
        foreach (var depth in new[] { WaveDepth.Sixteen, WaveDepth.TwentyFour })
        {
            var path = Path.Combine(_folder, $"{depth}.wav");
            var raw = Path.Combine(_folder, $"{depth}.raw");
            Save(path, new Sound(samples, 2), 1000, depth);
            using var process = Process.Start(sox, [path, "-t", "f32", raw]);
            process.WaitForExit();
            Assert.Equal(0, process.ExitCode);
            float[] theirs = [.. File.ReadAllBytes(raw).Chunk(4).Select(four => BinaryPrimitives.ReadSingleLittleEndian(four))];
            Assert.Equal(WaveFile.Read(path).Samples, theirs);
        }
    }

    private static void Save(string path, ISampleProvider source, long frames, WaveDepth depth = WaveDepth.Sixteen, bool force = false) =>
        WaveFile.Write(path, source, frames, depth, force, null, TestContext.Current.CancellationToken);

    private sealed class Sound(float[] samples, int channels) : ISampleProvider
    {
        private int _position;

        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(48000, channels);

        public int Read(Span<float> buffer)
        {
            var count = Math.Min(buffer.Length, samples.Length - _position);
            samples.AsSpan(_position, count).CopyTo(buffer);
            _position += count;
            return count;
        }
    }

    private sealed class Broken : ISampleProvider
    {
        public WaveFormat WaveFormat { get; } = WaveFormat.CreateIeeeFloatWaveFormat(48000, 2);

        public int Read(Span<float> buffer) => throw new InvalidOperationException("broken");
    }

    private sealed class Reaction(Action<long> react) : IProgress<long>
    {
        public void Report(long value) => react(value);
    }
}
