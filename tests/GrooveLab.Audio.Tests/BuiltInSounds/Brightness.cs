namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>
/// Power between 2 and 6 kHz relative to the power below, in dB, in the first half second. For a fundamental above about 1.1 kHz the
/// band starts at 1.8 times the fundamental; otherwise the fundamental would dominate the band, whatever the touch.
/// </summary>
internal static class Brightness
{
    public static double Of(BankUnderTest bank, int program, int key, int velocity)
    {
        const int Rate = 48000;
        var edge = Math.Max(2000, 1.8 * Measure.KeyFrequency(key));
        var power = Measure.PowerSpectrum(bank.Render(program, key, velocity, 0.5));
        return 10 * Math.Log10(Measure.Band(power, Rate, edge, Math.Max(6000, 3 * edge)) / Measure.Band(power, Rate, 20, edge));
    }
}
