using System.Globalization;

namespace GrooveLab.Pack;

/// <summary>Says on standard error what is made, how much there is, and how long it takes: one line that is written over on a terminal, otherwise a
/// line for each step.</summary>
/// <param name="to">Standard error.</param>
/// <param name="isTerminal">Whether lines can be written over.</param>
/// <param name="clock">The clock.</param>
/// <param name="all">The weight of all steps.</param>
/// <param name="steps">The number of steps.</param>
internal sealed class PackProgress(TextWriter to, bool isTerminal, TimeProvider clock, double all, int steps)
{
    private static readonly TimeSpan Redraw = TimeSpan.FromMilliseconds(200);
    private static readonly TimeSpan Settled = TimeSpan.FromSeconds(2);

    private readonly long _start = clock.GetTimestamp();
    private long _drawn;
    private double _before;
    private double _weight;
    private int _step;
    private int _width;
    private string _what = string.Empty;

    /// <summary>Begins a step.</summary>
    /// <param name="what">What is made.</param>
    /// <param name="weight">Its weight.</param>
    public void Begin(string what, double weight)
    {
        _step++;
        _what = what;
        _weight = weight;
        if (isTerminal)
        {
            Draw(0);
        }
        else
        {
            to.WriteLine(Text(0));
        }
    }

    /// <summary>Says how far the step is.</summary>
    /// <param name="share">The finished share, 0 to 1.</param>
    public void Show(double share)
    {
        if (isTerminal && clock.GetElapsedTime(_drawn) >= Redraw)
        {
            Draw(share);
        }
    }

    /// <summary>Ends the step.</summary>
    public void EndStep() => _before += _weight;

    /// <summary>Clears the line.</summary>
    public void Clear()
    {
        if (isTerminal && _width > 0)
        {
            to.Write('\r' + new string(' ', _width) + '\r');
            _width = 0;
        }
    }

    private void Draw(double share)
    {
        _drawn = clock.GetTimestamp();
        var text = Text(share);
        to.Write('\r' + text.PadRight(_width));
        _width = text.Length;
    }

    private string Text(double share)
    {
        var done = all <= 0 ? 0 : (_before + (share * _weight)) / all;
        var elapsed = clock.GetElapsedTime(_start);

        // The first seconds say little about the rest.
        var left = done > 0 && elapsed >= Settled ? ", " + InWords(elapsed * ((1 - done) / done)) + " left" : string.Empty;
        return $"{_step.ToString(CultureInfo.InvariantCulture)} of {steps.ToString(CultureInfo.InvariantCulture)}: {_what}{left}";
    }

    private static string InWords(TimeSpan time) => time.TotalSeconds < 55
        ? $"{Math.Max(5, 5 * (int)Math.Ceiling(time.TotalSeconds / 5)).ToString(CultureInfo.InvariantCulture)} s"
        : $"{Math.Max(1, (int)Math.Ceiling(time.TotalMinutes)).ToString(CultureInfo.InvariantCulture)} min";
}
