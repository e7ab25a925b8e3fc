using GrooveLab.Audio.BuiltInSounds;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Measures of rendered sound: levels, attacks, loudness, and its end. Decibels are of full scale, over both channels
/// together; silence is minus infinity. Outside the sound is silence.
/// </summary>
public static class StemMeasures
{
    /// <summary>The length of an attack in seconds. Common practice, no source.</summary>
    public const double AttackSeconds = 0.06;

    private const double Hop = 0.01;

    /// <summary>RMS level of a stretch, in dB.</summary>
    /// <param name="sound">The sound.</param>
    /// <param name="from">Its start in seconds.</param>
    /// <param name="seconds">Its length in seconds.</param>
    public static double Level(StemSound sound, double from, double seconds)
    {
        var first = (int)Math.Round(from * sound.SampleRate);
        var length = Math.Max(1, (int)Math.Round(seconds * sound.SampleRate));
        return 10 * Math.Log10(Energy(sound, first, first + length) / length);
    }

    /// <summary>RMS level of the attack at a time, in dB.</summary>
    public static double Attack(StemSound sound, double at) => Level(sound, at, AttackSeconds);

    /// <summary>The highest sample from a time on, in dB.</summary>
    public static double PeakFrom(StemSound sound, double from)
    {
        var highest = 0f;
        for (var i = Math.Max(0, (int)Math.Round(from * sound.SampleRate)); i < sound.Frames; i++)
        {
            highest = Math.Max(highest, Math.Max(Math.Abs(sound.Left[i]), Math.Abs(sound.Right[i])));
        }

        return 20 * Math.Log10(highest);
    }

    /// <summary>
    /// Loudness of a stretch: its K-weighted mean square (ITU-R BS.1770) in LUFS, without the gate, because a playing band has no pauses.
    /// </summary>
    public static double Loudness(StemSound sound, double from, double to)
    {
        var (first, end) = ((int)Math.Round(from * sound.SampleRate), Math.Min(sound.Frames, (int)Math.Round(to * sound.SampleRate)));
        var sum = 0.0;
        foreach (var channel in (ReadOnlySpan<int>)[0, 1])
        {
            var samples = channel == 0 ? sound.Left : sound.Right;
            var shelf = Biquad.KShelf(sound.SampleRate);
            var low = Biquad.KHighPass(sound.SampleRate);
            for (var i = 0; i < end; i++)
            {
                var weighted = low.Next(shelf.Next(samples[i]));
                sum += i >= first ? weighted * weighted : 0;
            }
        }

        return -0.691 + (10 * Math.Log10(sum / Math.Max(1, end - first)));
    }

    /// <summary>The last time, in seconds, at which 10 ms are louder than a level in dB; null if none are.</summary>
    public static double? LastAbove(StemSound sound, double decibels)
    {
        var length = (int)Math.Round(Hop * sound.SampleRate);
        for (var first = sound.Frames - length; first >= 0; first -= length)
        {
            if (10 * Math.Log10(Energy(sound, first, first + length) / length) > decibels)
            {
                return (double)(first + length) / sound.SampleRate;
            }
        }

        return null;
    }

    // The mean of both channels, so that equal sound on both sides has the level of one.
    private static double Energy(StemSound sound, int first, int end)
    {
        var sum = 0.0;
        for (var i = Math.Max(0, first); i < Math.Min(end, sound.Frames); i++)
        {
            sum += ((double)sound.Left[i] * sound.Left[i]) + ((double)sound.Right[i] * sound.Right[i]);
        }

        return sum / 2;
    }
}
