using System.Globalization;
using System.Runtime.InteropServices;
using System.Security.Cryptography;

namespace GrooveLab.SameMusic.Live;

/// <summary>A change of a scripted performance.</summary>
/// <param name="Frame">The number of frames played before it is requested.</param>
/// <param name="Words">The change in the words of the build that created it.</param>
internal sealed record ScriptedChange(long Frame, string Words)
{
    public static ScriptedChange Parse(string line)
    {
        var gap = line.IndexOf(' ', StringComparison.Ordinal);
        return new ScriptedChange(long.Parse(line[..gap], CultureInfo.InvariantCulture), line[(gap + 1)..]);
    }

    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Frame} {Words}");
}

/// <summary>A second of a performance.</summary>
/// <param name="Hash">The hash of its samples.</param>
/// <param name="Place">The bar that sounds when it starts; empty if unknown.</param>
internal sealed record PlayedSecond(string Hash, string Place);

/// <summary>The samples of a performance as hashes, one per second.</summary>
/// <param name="rate">Frames per second.</param>
internal sealed class PerformedMusic(int rate)
{
    private const int Channels = 2;
    private readonly List<PlayedSecond> _seconds = [];
    private readonly IncrementalHash _second = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
    private string _place = string.Empty;
    private int _inSecond;

    /// <summary>The number of frames.</summary>
    public long Frames { get; private set; }

    /// <summary>The seconds; the last one may be shorter.</summary>
    public IReadOnlyList<PlayedSecond> Seconds => _seconds;

    /// <summary>Reads the output of <see cref="Write"/>.</summary>
    public static PerformedMusic Read(string path, int rate)
    {
        var music = new PerformedMusic(rate);
        foreach (var line in File.ReadAllLines(path))
        {
            var words = line.Split(' ', 3);
            if (words[0] == "frames")
            {
                music.Frames = long.Parse(words[1], CultureInfo.InvariantCulture);
            }
            else
            {
                music._seconds.Add(new PlayedSecond(words[1], words.Length > 2 ? words[2] : string.Empty));
            }
        }

        return music;
    }

    /// <summary>Adds played audio.</summary>
    /// <param name="samples">Interleaved stereo.</param>
    /// <param name="place">The bar that sounds.</param>
    public void Add(ReadOnlySpan<float> samples, string place)
    {
        while (samples.Length > 0)
        {
            if (_inSecond == 0)
            {
                _place = place;
            }

            var piece = samples[..Math.Min(samples.Length, (rate * Channels) - _inSecond)];
            _second.AppendData(MemoryMarshal.AsBytes(piece));
            _inSecond += piece.Length;
            Frames += piece.Length / Channels;
            samples = samples[piece.Length..];
            if (_inSecond == rate * Channels)
            {
                Close();
            }
        }
    }

    /// <summary>Writes a line per second, and the number of frames.</summary>
    public void Write(string path)
    {
        if (_inSecond > 0)
        {
            Close();
        }

        File.WriteAllLines(path, [
            .. _seconds.Select((second, index) => string.Create(CultureInfo.InvariantCulture, $"{index} {second.Hash} {second.Place}").TrimEnd()),
            string.Create(CultureInfo.InvariantCulture, $"frames {Frames}"),
        ]);
    }

    private void Close()
    {
        _seconds.Add(new PlayedSecond(Convert.ToHexString(_second.GetHashAndReset())[..16], _place));
        _inSecond = 0;
    }
}
