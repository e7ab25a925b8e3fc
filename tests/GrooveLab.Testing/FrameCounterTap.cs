using System.Diagnostics;
using NAudio.Wave;

namespace GrooveLab.Testing;

/// <summary>
/// Replaces the right channel by a frame counter, so that a recording of the output tells of every frame lost or repeated.
/// </summary>
/// <remarks>
/// Never for ears: it is a loud sawtooth. The left channel and the work behind it stay as they are. The counter
/// runs from 1 to <see cref="Period"/> in steps that survive a conversion to 16 bits, and never is zero, so silence that a device
/// puts in is told from it.
/// </remarks>
/// <param name="source">What is played; stereo.</param>
public sealed class FrameCounterTap(ISampleProvider source) : ISampleProvider
{
    /// <summary>How many frames are counted before the counter begins anew.</summary>
    public const int Period = 4000;

    /// <summary>The distance of neighbouring counts, in steps of a 16-bit sample.</summary>
    public const int Step = 8;

    // Once its buffer is full for the first time, a device lets a whole buffer's time go by before it asks for more.
    private const int FirstReads = 32;

    private readonly (long From, long To)[] _lateReads = new (long, long)[4096];
    private readonly long _lateTicks = Stopwatch.Frequency * 12 / 1000;
    private int _count;
    private int _reads;
    private long _lastEnd;
    private long _longestRead;
    private long _longestBetween;
    private int _late;

    /// <inheritdoc/>
    public WaveFormat WaveFormat => source.WaveFormat;

    /// <summary>The longest that one read took: the source's own work, and what the system or the collector put in between. Any thread.</summary>
    public TimeSpan LongestRead => Stopwatch.GetElapsedTime(0, Volatile.Read(ref _longestRead));

    /// <summary>The longest from one read's end to the next one's start: the device's pace, and what came in between there. Any thread.</summary>
    public TimeSpan LongestBetween => Stopwatch.GetElapsedTime(0, Volatile.Read(ref _longestBetween));

    /// <summary>
    /// From when to when it was, by <see cref="Stopwatch.GetTimestamp"/>, each time that more than 12 ms went by from one read's end to the
    /// next one's, from the 33rd read on; the first of them. Any thread.
    /// </summary>
    public IReadOnlyList<(long From, long To)> LateReads => _lateReads[..Volatile.Read(ref _late)];

    /// <inheritdoc/>
    public int Read(Span<float> buffer)
    {
        var start = Stopwatch.GetTimestamp();
        var read = source.Read(buffer);
        var end = Stopwatch.GetTimestamp();
        Volatile.Write(ref _longestRead, Math.Max(_longestRead, end - start));
        if (_lastEnd != 0)
        {
            if (++_reads > FirstReads && end - _lastEnd > _lateTicks && _late < _lateReads.Length)
            {
                _lateReads[_late] = (_lastEnd, end);
                Volatile.Write(ref _late, _late + 1);
            }

            Volatile.Write(ref _longestBetween, Math.Max(_longestBetween, start - _lastEnd));
        }

        _lastEnd = end;
        for (var i = 1; i < read; i += 2)
        {
            buffer[i] = (_count + 1) * Step / 32768f;
            _count = _count + 1 == Period ? 0 : _count + 1;
        }

        return read;
    }
}
