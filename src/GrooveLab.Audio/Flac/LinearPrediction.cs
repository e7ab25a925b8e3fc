namespace GrooveLab.Audio.Flac;

/// <summary>
/// Finds the coefficients of linear predictors for a block: autocorrelation of the windowed samples, then Levinson and Durbin's recursion.
/// Source: Makhoul, Linear Prediction: A Tutorial Review, Proceedings of the IEEE 63 (1975), section II.
/// </summary>
/// <remarks>Only additions, multiplications and divisions, in a fixed order: equal samples give equal coefficients on every machine.</remarks>
internal sealed class LinearPrediction
{
    /// <summary>The highest order; more are outside the format's streamable subset at up to 48 kHz.</summary>
    public const int MostOrder = 12;

    private readonly double[] _autocorrelation = new double[MostOrder + 1];
    private readonly double[] _coefficients = new double[MostOrder];
    private readonly double[] _byOrder = new double[MostOrder * MostOrder];
    private double[] _window = [];
    private double[] _windowed = [];

    /// <summary>The highest order for which there are coefficients; 0 if the block is too short or has nothing to predict.</summary>
    public int Orders { get; private set; }

    /// <summary>The coefficients of an order, for the latest sample first.</summary>
    public ReadOnlySpan<double> Coefficients(int order) => _byOrder.AsSpan((order - 1) * MostOrder, order);

    /// <summary>Finds the coefficients of every order for a block.</summary>
    public void Find(ReadOnlySpan<int> samples)
    {
        Orders = 0;
        if (samples.Length <= MostOrder)
        {
            return;
        }

        Correlate(samples);
        var error = _autocorrelation[0];
        for (var order = 1; order <= MostOrder && error > 0; order++)
        {
            var reflection = _autocorrelation[order];
            for (var i = 0; i < order - 1; i++)
            {
                reflection -= _coefficients[i] * _autocorrelation[order - 1 - i];
            }

            reflection /= error;
            _coefficients[order - 1] = reflection;
            for (int i = 0, j = order - 2; i <= j; i++, j--)
            {
                var (low, high) = (_coefficients[i], _coefficients[j]);
                _coefficients[i] = low - (reflection * high);
                _coefficients[j] = high - (reflection * low);
            }

            error *= 1 - (reflection * reflection);
            _coefficients.AsSpan(0, order).CopyTo(_byOrder.AsSpan((order - 1) * MostOrder));
            Orders = order;
        }
    }

    private void Correlate(ReadOnlySpan<int> samples)
    {
        if (_window.Length != samples.Length)
        {
            _window = Window(samples.Length);
            _windowed = new double[samples.Length];
        }

        for (var i = 0; i < samples.Length; i++)
        {
            _windowed[i] = samples[i] * _window[i];
        }

        Array.Clear(_autocorrelation);
        for (var lag = 0; lag <= MostOrder; lag++)
        {
            // Four sums, because one would wait for each addition.
            double a = 0, b = 0, c = 0, d = 0;
            var later = _windowed.AsSpan(lag);
            var earlier = _windowed.AsSpan(0, later.Length);
            var i = 0;
            for (; i + 4 <= later.Length; i += 4)
            {
                a += later[i] * earlier[i];
                b += later[i + 1] * earlier[i + 1];
                c += later[i + 2] * earlier[i + 2];
                d += later[i + 3] * earlier[i + 3];
            }

            for (; i < later.Length; i++)
            {
                a += later[i] * earlier[i];
            }

            _autocorrelation[lag] = a + b + (c + d);
        }
    }

    // Flat in the middle, with a smooth quarter at each end: close to a raised cosine, which not every system computes equally.
    private static double[] Window(int length)
    {
        var window = new double[length];
        for (var i = 0; i < length; i++)
        {
            var fromEnd = Math.Min(i + 0.5, length - i - 0.5) / (length / 4.0);
            window[i] = fromEnd >= 1 ? 1 : fromEnd * fromEnd * (3 - (2 * fromEnd));
        }

        return window;
    }
}
