using System.Diagnostics;
using NAudio.Wave;

namespace GrooveLab.Testing;

/// <summary>Replaces the right channel by a frame counter, so that a recording of the output shows every lost or repeated
/// frame.</summary>
/// <remarks>Not for listening: it is a loud sawtooth. The left channel and its processing stay unchanged. The counter runs from 1 to
/// <see cref="Period"/> in steps that survive a conversion to 16 bits, and is never zero, which distinguishes it from silence inserted by
/// a device.</remarks>
/// <param name="source">The source; stereo.</param>
public sealed class FrameCounterTap(ISampleProvider source) : ISampleProvider
{
    /// <summary>The number of frames before the counter restarts.</summary>
    public const int Period = 4000;

    /// <summary>The distance of adjacent counts, in steps of a 16-bit sample.</summary>
    public const int Step = 8;

    // After first filling its buffer, a device waits for the duration of a whole buffer before it asks for more.
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

    /// <summary>The longest duration of a read: the source's own work, and interruptions by the system or the garbage collector. Any
    /// thread.</summary>
    public TimeSpan LongestRead => Stopwatch.GetElapsedTime(0, Volatile.Read(ref _longestRead));

    /// <summary>The longest time from the end of one read to the start of the next: the device's pace, and interruptions. Any
    /// thread.</summary>
    public TimeSpan LongestBetween => Stopwatch.GetElapsedTime(0, Volatile.Read(ref _longestBetween));

    /// <summary>Start and end times, by <see cref="Stopwatch.GetTimestamp"/>, of the first intervals of more than 12 ms between the ends
    /// of two reads, from the 33rd read on. Any thread.</summary>
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
