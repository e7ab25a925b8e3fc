namespace GrooveLab.Audio.Synthesis;

/// <summary>The units of SoundFont 2.04, section 9.2 and glossary, in physical ones.</summary>
internal static class Units
{
    /// <summary>Attenuation at which an envelope counts as silent: 100 dB (8.1.3, generators 36-38).</summary>
    public const float SilenceCentibels = 1000;

    /// <summary>Timecents to seconds; 0 is one second.</summary>
    public static double Seconds(double timecents) => Math.Pow(2, timecents / 1200);

    /// <summary>Absolute cents to Hz; 6,900 is 440 Hz.</summary>
    public static double Hertz(double cents) => 440 * Math.Pow(2, (cents - 6900) / 1200);

    /// <summary>Cents to a ratio of frequencies.</summary>
    public static double Ratio(double cents) => Math.Pow(2, cents / 1200);

    /// <summary>Centibels of attenuation to a factor of amplitude.</summary>
    public static float Amplitude(float centibels) => MathF.Pow(10, centibels / -200);

    /// <summary>A factor of amplitude to centibels of attenuation; the factor must be positive.</summary>
    public static float Centibels(float amplitude) => -200 * MathF.Log10(amplitude);
}
