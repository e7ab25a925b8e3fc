using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Parts of a band rendered into memory for measuring, by the engine and synthesizer of live playing. Second 0 is the first frame, so
/// the first bar line comes after the pre-roll. Immutable.
/// </summary>
public sealed class StemSound
{
    private const int Channels = 2;
    private const int PieceFrames = 16_384;

    private readonly float[] _left;
    private readonly float[] _right;

    /// <summary>Creates a sound from its two channels.</summary>
    /// <param name="left">Samples of the left channel.</param>
    /// <param name="right">As many samples of the right channel.</param>
    /// <param name="sampleRate">Frames a second.</param>
    public StemSound(float[] left, float[] right, int sampleRate)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sampleRate);
        ArgumentOutOfRangeException.ThrowIfNotEqual(right.Length, left.Length);
        _left = left;
        _right = right;
        SampleRate = sampleRate;
    }

    /// <summary>Frames a second.</summary>
    public int SampleRate { get; }

    /// <summary>Length in frames.</summary>
    public int Frames => _left.Length;

    /// <summary>Length in seconds.</summary>
    public double Seconds => (double)Frames / SampleRate;

    /// <summary>The left channel.</summary>
    public ReadOnlySpan<float> Left => _left;

    /// <summary>The right channel.</summary>
    public ReadOnlySpan<float> Right => _right;

    /// <summary>Plays a route to its end, including the tail.</summary>
    /// <param name="route">The route to play; it must end.</param>
    /// <param name="synth">The synthesizer; owned, and disposed if possible.</param>
    /// <param name="options">The engine's settings, at the synthesizer's rate.</param>
    /// <param name="plays">The parts that play; null for all.</param>
    /// <param name="limited">Whether it goes through the mix's limiter.</param>
    /// <param name="cancellation">Cancels.</param>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public static StemSound Render(
        BarRoute route,
        ISoundFontSynth synth,
        EngineOptions options,
        Func<PartChannels, bool>? plays = null,
        bool limited = false,
        CancellationToken cancellation = default)
    {
        using var owned = synth as IDisposable;
        var player = new OfflinePlayer(route, synth, options with { EndsStream = true }, plays, limited);
        var left = new List<float>();
        var right = new List<float>();
        var piece = new float[PieceFrames * Channels];
        int read;
        do
        {
            cancellation.ThrowIfCancellationRequested();
            read = player.Read(piece);
            for (var i = 0; i + 1 < read; i += Channels)
            {
                left.Add(piece[i]);
                right.Add(piece[i + 1]);
            }
        }
        while (read > 0);
        return new StemSound([.. left], [.. right], options.SampleRate);
    }
}
