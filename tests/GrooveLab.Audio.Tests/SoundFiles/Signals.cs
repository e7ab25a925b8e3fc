using GrooveLab.Audio.SoundFiles;

namespace GrooveLab.Audio.Tests.SoundFiles;

/// <summary>Sounds that are easy or hard to code.</summary>
internal static class Signals
{
    /// <summary>The sounds by name: interleaved samples and their channels.</summary>
    public static IReadOnlyDictionary<string, (float[] Samples, int Channels)> All { get; } = new Dictionary<string, (float[], int)>(StringComparer.Ordinal)
    {
        ["nothing"] = ([], 2),
        ["one frame"] = ([0.25f, -0.5f], 2),
        ["one mono frame"] = ([1f], 1),
        ["silence"] = (new float[2 * 20_000], 2),
        ["two blocks and a frame"] = (Stereo(8193, Music), 2),
        ["a block of a prime length"] = (Stereo(4093, Music), 2),
        ["300 frames"] = (Stereo(300, Music), 2),
        ["music"] = (Stereo(50_001, Music), 2),
        ["mono music"] = ([.. Enumerable.Range(0, 30_011).Select(i => Music(i, 0))], 1),
        ["full-scale square"] = (Stereo(12_345, (i, channel) => (i / 50 % 2 == 0) == (channel == 0) ? 1f : -1f), 2),
        ["alternating full scale"] = (Stereo(9_999, (i, _) => i % 2 == 0 ? 1f : -1f), 2),
        ["beyond full scale"] = (Stereo(5_000, (i, _) => 3 * MathF.Sin(i / 10f)), 2),
        ["white noise"] = (Stereo(20_001, (i, channel) => Noise((2 * i) + channel)), 2),
        ["noise that is mostly quiet"] = (Stereo(20_001, (i, channel) => Noise((2 * i) + channel) * (i / 1000 % 5 == 0 ? 0.9f : 0.001f)), 2),
        ["left only"] = (Stereo(10_000, (i, channel) => channel == 0 ? Music(i, 0) : 0), 2),
        ["the same on both sides"] = (Stereo(10_000, (i, _) => Music(i, 0)), 2),
        ["opposite sides"] = (Stereo(10_000, (i, channel) => channel == 0 ? Music(i, 0) : -Music(i, 0)), 2),
        ["eight bits"] = (Stereo(10_000, (i, channel) => MathF.Round(Music(i, channel) * 128) / 128), 2),
        ["clicks in silence"] = (Stereo(30_000, (i, _) => i % 7001 == 0 ? 1f : 0), 2),
        ["three channels"] = ([.. Enumerable.Range(0, 30_000).Select(i => Music(i / 3, i % 3))], 3),
    };

    /// <summary>Writes a sound to a file.</summary>
    public static void Save(
        string path, ReadOnlySpan<float> samples, int channels, SoundFormat format, WaveDepth depth = WaveDepth.Sixteen, int rate = 48_000,
        string? title = null)
    {
        var options = new SoundFileOptions { Format = format, Depth = depth, Title = title };
        using var writer = SoundFile.Begin(path, rate, channels, options, samples.Length / channels);

        // In pieces that do not match any block.
        var piece = 1789 * channels;
        for (; !samples.IsEmpty; samples = samples[Math.Min(piece, samples.Length)..])
        {
            writer.Write(samples[..Math.Min(piece, samples.Length)]);
        }

        writer.Commit();
    }

    /// <summary>White noise from -1 to 1 that is the same in every run.</summary>
    public static float Noise(int index)
    {
        var hash = unchecked(((uint)index + 1) * 2654435761u);
        hash ^= hash >> 15;
        hash = unchecked(hash * 2246822519u);
        hash ^= hash >> 13;
        return (hash / (float)uint.MaxValue * 2) - 1;
    }

    /// <summary>A few decaying tones, different in each channel.</summary>
    public static float Music(int frame, int channel)
    {
        var since = frame % 9000 / 48_000.0;
        var decay = Math.Exp(-4 * since);
        return (float)(decay * ((0.3 * Math.Sin(2 * Math.PI * 220 * since)) + (0.1 * Math.Sin((2 * Math.PI * 1331 * since) + channel)))
            + (0.0005 * Noise((frame * 3) + channel)));
    }

    /// <summary>Interleaved samples of two channels.</summary>
    public static float[] Stereo(int frames, Func<int, int, float> sample) =>
        [.. Enumerable.Range(0, 2 * frames).Select(i => sample(i / 2, i % 2))];
}
