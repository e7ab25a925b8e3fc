namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>Loudness of one note: the greatest K-weighted mean square (ITU-R BS.1770 weighting) in any stretch of some length.</summary>
/// <remarks>Not the gated loudness of a programme: a note is too short for that.</remarks>
internal static class Loudness
{
    /// <summary>Root of the greatest weighted mean square; 0 for silence.</summary>
    /// <param name="signal">The note from its onset.</param>
    /// <param name="rate">Frames a second.</param>
    /// <param name="stretch">Seconds over which the ear sums; a fifth of a second is usual for loudness, less for clicks.</param>
    public static double Of(ReadOnlySpan<double> signal, double rate, double stretch)
    {
        var shelf = Biquad.KShelf(rate);
        var low = Biquad.KHighPass(rate);
        int window = Math.Max(1, (int)(stretch * rate));
        double[] squares = new double[signal.Length];
        double sum = 0, greatest = 0;
        for (int i = 0; i < signal.Length; i++)
        {
            double w = low.Next(shelf.Next(signal[i]));
            squares[i] = w * w;
            sum += squares[i] - (i >= window ? squares[i - window] : 0);
            greatest = Math.Max(greatest, sum);
        }

        return Math.Sqrt(greatest / window);
    }
}
