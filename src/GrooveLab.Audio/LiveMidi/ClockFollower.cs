namespace GrooveLab.Audio.LiveMidi;

/// <summary>
/// Another's MIDI clock: its tempo, and its place in the song at any time, as a line through the last clocks, which come with a jitter of some
/// milliseconds.
/// </summary>
/// <remarks>
/// <para>
/// The line covers up to <see cref="MostClocks"/> clocks (four quarters), so that jitter is not heard. When the newest clocks leave it, the tempo has
/// changed: the older ones are dropped, and the line is sure again after <see cref="ClocksAfterChange"/> more (a quarter).
/// </para>
/// <para>Pure: times come from outside, in seconds. For one thread.</para>
/// </remarks>
public sealed class ClockFollower
{
    /// <summary>The most clocks of the line.</summary>
    public const int MostClocks = 96;

    /// <summary>Clocks after a change of tempo until the new one is known well.</summary>
    public const int ClocksAfterChange = 24;

    /// <summary>The shortest silence that counts as a lost clock, in seconds.</summary>
    public const double ShortestLoss = 0.2;

    private const double IntervalsToLoss = 5;
    private const int Newest = 6;
    private const int KeptAtChange = 10;
    private const int FewForTempo = 5;
    private const double LeastOff = 0.003;
    private const double Deviations = 3.5;
    private const int ClocksInSixteenth = 6;

    // From 10 to 1000 quarters a minute.
    private const double ShortestInterval = 60.0 / 1000 / 24;
    private const double LongestInterval = 60.0 / 10 / 24;

    private readonly double[] _times = new double[MostClocks];
    private readonly long[] _numbers = new long[MostClocks];
    private int _count;
    private int _next;
    private long _number;
    private double _last = double.NegativeInfinity;
    private double _interval;
    private double _middleTime;
    private double _middleNumber;
    private double _place;
    private long _placeNumber;
    private bool _waits;
    private int _off;

    /// <summary>Whether the clock's song runs: start or continue came, and the first clock after it.</summary>
    public bool Runs { get; private set; }

    /// <summary>Whether start or continue came, and no clock yet.</summary>
    public bool IsAboutToRun => _waits;

    /// <summary>The place at which it will run, or ran when it stopped, in clocks from the start of the song.</summary>
    public double Place => _place;

    /// <summary>Clocks a second; null until enough came.</summary>
    public double? ClocksPerSecond => _interval > 0 ? 1 / _interval : null;

    /// <summary>Quarters a minute; null until enough clocks came.</summary>
    public double? QuartersPerMinute => ClocksPerSecond * 60 / 24;

    /// <summary>Whether the clock has stopped coming while its song runs.</summary>
    public bool IsLost(double now) => Runs && now - _last > Loss;

    /// <summary>The place in the song at a time, in clocks; meaningful while it runs.</summary>
    /// <param name="seconds">The time; later than the last clock for what is to come.</param>
    /// <param name="elseInterval">Seconds between clocks while the tempo is not known.</param>
    public double PlaceAt(double seconds, double elseInterval)
    {
        var number = _interval > 0 ? _middleNumber + ((seconds - _middleTime) / _interval) : _number + ((seconds - _last) / elseInterval);
        return _place + number - _placeNumber;
    }

    /// <summary>A timing clock.</summary>
    public void Clock(double at)
    {
        var gap = at - _last;
        if (_count > 0 && gap > Loss)
        {
            // What was lost is counted at the last tempo, so that the place is right again.
            _number += _interval > 0 ? Math.Max(1, (long)Math.Round(gap / _interval)) : 1;
            Forget(0);
        }
        else
        {
            _number++;
        }

        _last = at;
        _times[_next] = at;
        _numbers[_next] = _number;
        _next = (_next + 1) % MostClocks;
        _count = Math.Min(MostClocks, _count + 1);
        if (_waits)
        {
            (_waits, Runs, _placeNumber) = (false, true, _number);
        }

        Fit();
    }

    /// <summary>Start: from the beginning, with the next clock.</summary>
    public void Start()
    {
        _place = 0;
        (_waits, Runs) = (true, false);
    }

    /// <summary>Continue: from the place where it stopped or to which it was set, with the next clock.</summary>
    public void Continue()
    {
        if (!Runs)
        {
            _waits = true;
        }
    }

    /// <summary>Stop.</summary>
    public void Stop()
    {
        if (Runs)
        {
            // The next clock would have been the next place.
            _place += _number + 1 - _placeNumber;
        }

        (_waits, Runs) = (false, false);
    }

    /// <summary>Song position pointer; while the song runs it says nothing that can be obeyed.</summary>
    public void Position(int sixteenth)
    {
        if (!Runs)
        {
            _place = (double)sixteenth * ClocksInSixteenth;
        }
    }

    private double Loss => Math.Max(ShortestLoss, IntervalsToLoss * _interval);

    private int At(int fromNewest) => (_next - 1 - fromNewest + (2 * MostClocks)) % MostClocks;

    private void Forget(int keep) => _count = Math.Min(_count, keep);

    private void Fit()
    {
        if (_count >= 2 * Newest && HasLeft())
        {
            _off++;
        }
        else
        {
            _off = 0;
        }

        if (_off >= 3)
        {
            _off = 0;
            Forget(KeptAtChange);
        }

        Line(0, _count, out var middleTime, out var middleNumber, out var interval);
        if (_count >= FewForTempo && interval is >= ShortestInterval and <= LongestInterval)
        {
            (_middleTime, _middleNumber, _interval) = (middleTime, middleNumber, interval);
        }
        else if (_interval > 0)
        {
            // Too few since a gap: the place is theirs, and the tempo the old one.
            (_middleTime, _middleNumber) = (middleTime, middleNumber);
        }
    }

    // Whether the newest clocks lie off the line through the others by more than their jitter explains.
    private bool HasLeft()
    {
        Line(Newest, _count - Newest, out var middleTime, out var middleNumber, out var interval);
        double squares = 0;
        for (var i = Newest; i < _count; i++)
        {
            var off = _times[At(i)] - middleTime - ((_numbers[At(i)] - middleNumber) * interval);
            squares += off * off;
        }

        double sum = 0;
        for (var i = 0; i < Newest; i++)
        {
            sum += _times[At(i)] - middleTime - ((_numbers[At(i)] - middleNumber) * interval);
        }

        // The line itself is less sure of what lies beyond it than of what it covers: up to twice, for a short one.
        var jitter = Math.Sqrt(squares / Math.Max(1, _count - Newest - 2));
        var unsure = Math.Sqrt((1.0 / Newest) + (4.0 / (_count - Newest)));
        return Math.Abs(sum / Newest) > Math.Max(LeastOff, Deviations * jitter * unsure);
    }

    private void Line(int from, int count, out double middleTime, out double middleNumber, out double interval)
    {
        (middleTime, middleNumber) = (0, 0);
        for (var i = from; i < from + count; i++)
        {
            middleTime += _times[At(i)];
            middleNumber += _numbers[At(i)];
        }

        middleTime /= Math.Max(1, count);
        middleNumber /= Math.Max(1, count);
        double above = 0;
        double below = 0;
        for (var i = from; i < from + count; i++)
        {
            var x = _numbers[At(i)] - middleNumber;
            above += x * (_times[At(i)] - middleTime);
            below += x * x;
        }

        interval = below > 0 ? above / below : 0;
    }
}
