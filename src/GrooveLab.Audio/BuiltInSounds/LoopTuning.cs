namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>A loop of whole frames that holds whole periods: the sample rate is bent to fit, as the format allows any.</summary>
/// <param name="Frames">Length of the loop, a power of two.</param>
/// <param name="Periods">Periods in it.</param>
/// <param name="SampleRate">Frames a second; whole, and so near the exact value that the error stays under 0.05 cents.</param>
internal readonly record struct LoopTuning(int Frames, int Periods, int SampleRate)
{
    /// <summary>Frames a period; not whole as a rule.</summary>
    public double Period => (double)Frames / Periods;

    /// <summary>Hz at the exact rate of the header.</summary>
    public double Frequency => SampleRate / Period;

    /// <summary>Chooses periods and rate for a key.</summary>
    /// <param name="key">MIDI key, equal temperament on A4 = 440 Hz.</param>
    /// <param name="nearRate">The rate to stay near.</param>
    /// <param name="frames">Length of the loop, a power of two.</param>
    public static LoopTuning For(int key, double nearRate, int frames)
    {
        double frequency = KeyFrequency(key);
        int periods = Math.Max(1, (int)Math.Round(frequency * frames / nearRate));
        return new(frames, periods, (int)Math.Round(frequency * frames / periods));
    }

    public static double KeyFrequency(double key) => 440 * Math.Pow(2, (key - 69) / 12);
}
