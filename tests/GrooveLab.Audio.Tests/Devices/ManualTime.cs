namespace GrooveLab.Audio.Tests.Devices;

/// <summary>A clock that moves only when told to; its timers fire on the caller's thread.</summary>
internal sealed class ManualTime : TimeProvider
{
    private readonly List<ManualTimer> _timers = [];
    private long _now = 1;

    public override long TimestampFrequency => 1_000_000_000;

    public override long GetTimestamp() => _now;

    public void Advance(TimeSpan span)
    {
        var end = _now + (long)(span.TotalSeconds * TimestampFrequency);
        while (_timers.Where(timer => timer.Due <= end).MinBy(timer => timer.Due) is { } next)
        {
            _now = Math.Max(_now, next.Due);
            next.Fire();
        }

        _now = end;
    }

    public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
    {
        ManualTimer timer = new(this, callback, state);
        timer.Change(dueTime, period);
        _timers.Add(timer);
        return timer;
    }

    private sealed class ManualTimer(ManualTime time, TimerCallback callback, object? state) : ITimer
    {
        private long _period;

        public long Due { get; private set; } = long.MaxValue;

        public bool Change(TimeSpan dueTime, TimeSpan period)
        {
            _period = Span(period);
            Due = dueTime == Timeout.InfiniteTimeSpan ? long.MaxValue : time._now + Span(dueTime);
            return true;
        }

        public void Fire()
        {
            Due = _period == long.MaxValue ? long.MaxValue : Due + _period;
            callback(state);
        }

        public void Dispose() => Due = long.MaxValue;

        public ValueTask DisposeAsync()
        {
            Dispose();
            return ValueTask.CompletedTask;
        }

        private static long Span(TimeSpan span) =>
            span == Timeout.InfiniteTimeSpan ? long.MaxValue : (long)(span.TotalSeconds * 1_000_000_000);
    }
}
