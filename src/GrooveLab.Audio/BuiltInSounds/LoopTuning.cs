namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A loop of whole frames that holds whole periods; the sample rate is adjusted to fit, because the format allows any rate.</summary>
/// <param name="Frames">Length of the loop, a power of two.</param>
/// <param name="Periods">Periods in it.</param>
/// <param name="SampleRate">Sample rate in Hz, a whole number; the tuning error stays under 0.05 cents.</param>
internal readonly record struct LoopTuning(int Frames, int Periods, int SampleRate)
{
    /// <summary>Frames in a period, usually not a whole number.</summary>
    public double Period => (double)Frames / Periods;

    /// <summary>Frequency in Hz at the header's sample rate.</summary>
    public double Frequency => SampleRate / Period;

    /// <summary>Chooses periods and rate for a key.</summary>
    /// <param name="key">MIDI key, equal temperament on A4 = 440 Hz.</param>
    /// <param name="nearRate">The rate to stay close to, in Hz.</param>
    /// <param name="frames">Length of the loop, a power of two.</param>
    public static LoopTuning For(int key, double nearRate, int frames)
    {
        var frequency = KeyFrequency(key);
        var periods = Math.Max(1, (int)Math.Round(frequency * frames / nearRate));
        return new(frames, periods, (int)Math.Round(frequency * frames / periods));
    }

    public static double KeyFrequency(double key) => 440 * Math.Pow(2, (key - 69) / 12);
}
