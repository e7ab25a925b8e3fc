using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.LiveMidi;

/// <summary>The speed with which a band stays on another's clock: its tempo, and a little faster or slower while the band is behind or ahead.</summary>
internal static class FollowedSpeed
{
    /// <summary>The time constant of the return to the clock, in seconds: a difference shrinks to a third in this time.</summary>
    public const double ReturnSeconds = 0.7;

    /// <summary>The largest deviation from the clock's tempo, as a share of it: while the band is more than a few hundredths of a second off.</summary>
    public const double MostDeviation = 0.1;

    // Below it lies the jitter of good clocks, in seconds; a difference so small is not heard as one.
    private const double Unheard = 0.001;
    private const int Steps = 4096;
    private const double Fastest = 4;
    private const double Slowest = 1.0 / 16;

    /// <summary>The speed as a factor on a tempo.</summary>
    /// <param name="clocksPerSecond">The clock's tempo.</param>
    /// <param name="steadyClocksPerSecond">The tempo at speed 1.</param>
    /// <param name="behind">How many clocks the band is behind; negative if it is ahead.</param>
    public static Rational Of(double clocksPerSecond, double steadyClocksPerSecond, double behind)
    {
        var seconds = behind / clocksPerSecond;
        var correction = Math.Abs(seconds) < Unheard ? 0 : Math.Clamp(seconds / ReturnSeconds, -MostDeviation, MostDeviation);
        var speed = Math.Clamp(clocksPerSecond * (1 + correction) / steadyClocksPerSecond, Slowest, Fastest);
        var ratio = new Rational(Math.Max(1, (long)Math.Round(speed * Steps)), Steps);
        return Exactness.IsUsableSpeed(ratio) ? ratio : Rational.One;
    }
}
