using System.Diagnostics;
using GrooveLab.Audio.Devices;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>
/// When a frame of the sound leaves the output, in the time of <see cref="Stopwatch.GetTimestamp"/>. A device tells its position once for each
/// buffer, and a busy machine tells it late by a few milliseconds; a line through the last second removes that.
/// </summary>
/// <remarks>Pure: the readings come from outside. For one thread.</remarks>
internal sealed class OutputTime(int sampleRate, long ticksPerSecond)
{
    private const int Kept = 128;
    private const int FewForSlope = 24;

    // A gap in the sound moves all later frames. So many readings in a row, all off to one side by more than this, are no jitter.
    private const int InARow = 6;
    private const double JumpSeconds = 0.003;

    // No sound card is further off than this from the time of the system.
    private const double LargestSlope = 0.002;

    private readonly double[] _frames = new double[Kept];
    private readonly double[] _offsets = new double[Kept];
    private int _count;
    private int _next;
    private long _lastTimestamp;
    private int _early;
    private int _late;
    private double _offset;
    private double _slope;
    private double _middle;

    /// <summary>Whether the first frame has been heard, so that times are known.</summary>
    public bool IsKnown => _count > 0;

    /// <summary>Takes a reading; the same one again changes nothing.</summary>
    public void Add(in OutputClock clock)
    {
        var heard = clock.FramesPulled - clock.DelayFrames;
        if (clock.Timestamp == 0 || clock.Timestamp == _lastTimestamp || heard < 0 || clock.FramesPulled == 0)
        {
            return;
        }

        _lastTimestamp = clock.Timestamp;
        var offset = ((double)clock.Timestamp / ticksPerSecond) - ((double)heard / sampleRate);
        if (_count > 0)
        {
            var off = offset - OffsetAt(heard);
            _late = off > JumpSeconds ? _late + 1 : 0;
            _early = off < -JumpSeconds ? _early + 1 : 0;
            if (_late >= InARow || _early >= InARow || Math.Abs(off) > 0.5)
            {
                Keep(Math.Abs(off) > 0.5 ? 0 : InARow - 1);
                (_late, _early) = (0, 0);
            }
        }

        _frames[_next] = heard;
        _offsets[_next] = offset;
        _next = (_next + 1) % Kept;
        _count = Math.Min(Kept, _count + 1);
        Fit();
    }

    /// <summary>The time at which a frame is heard, in ticks.</summary>
    public double TicksAt(double frame) => ((frame / sampleRate) + OffsetAt(frame)) * ticksPerSecond;

    /// <summary>The frame that is heard at a time.</summary>
    public double FrameAt(long ticks)
    {
        var seconds = (double)ticks / ticksPerSecond;
        var frame = (seconds - _offset) * sampleRate;

        // The slope is so small that one more step is exact.
        return (seconds - OffsetAt(frame)) * sampleRate;
    }

    private double OffsetAt(double frame) => _offset + (_slope * (frame - _middle) / sampleRate);

    private void Keep(int newest)
    {
        newest = Math.Min(newest, _count);
        var frames = new double[newest];
        var offsets = new double[newest];
        for (var i = 0; i < newest; i++)
        {
            var at = (_next - newest + i + (2 * Kept)) % Kept;
            (frames[i], offsets[i]) = (_frames[at], _offsets[at]);
        }

        frames.CopyTo(_frames, 0);
        offsets.CopyTo(_offsets, 0);
        _count = newest;
        _next = newest;
    }

    private void Fit()
    {
        double middle = 0;
        double mean = 0;
        for (var i = 0; i < _count; i++)
        {
            middle += _frames[i];
            mean += _offsets[i];
        }

        middle /= _count;
        mean /= _count;
        double above = 0;
        double below = 0;
        for (var i = 0; i < _count; i++)
        {
            var x = (_frames[i] - middle) / sampleRate;
            above += x * (_offsets[i] - mean);
            below += x * x;
        }

        _middle = middle;
        _offset = mean;
        _slope = _count < FewForSlope || below == 0 ? 0 : Math.Clamp(above / below, -LargestSlope, LargestSlope);
    }
}
