namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>Loudness of one note: the greatest K-weighted mean square (ITU-R BS.1770 weighting) in any stretch of a given length.</summary>
/// <remarks>Not the gated loudness of the standard, for which a note is too short.</remarks>
internal static class Loudness
{
    /// <summary>Root of the greatest weighted mean square; 0 for silence.</summary>
    /// <param name="signal">The note from its onset.</param>
    /// <param name="rate">Sample rate in Hz.</param>
    /// <param name="stretch">Seconds over which the ear integrates; usually a fifth of a second for loudness, less for clicks.</param>
    public static double Of(ReadOnlySpan<double> signal, double rate, double stretch)
    {
        var shelf = Biquad.KShelf(rate);
        var low = Biquad.KHighPass(rate);
        var window = Math.Max(1, (int)(stretch * rate));
        var squares = new double[signal.Length];
        double sum = 0, greatest = 0;
        for (var i = 0; i < signal.Length; i++)
        {
            var w = low.Next(shelf.Next(signal[i]));
            squares[i] = w * w;
            sum += squares[i] - (i >= window ? squares[i - window] : 0);
            greatest = Math.Max(greatest, sum);
        }

        return Math.Sqrt(greatest / window);
    }
}
