using System.Numerics;

namespace GrooveLab.Audio.Flac;

/// <summary>One channel of a block, in the smallest of the forms that the encoder knows. Source: RFC 9639, section 9.2. Reused for every block.</summary>
internal sealed class FlacSubframe
{
    private const int MostFixedOrder = 4;

    // The bits of a quantized coefficient. More are of little use to predictors of whole numbers.
    private const int Precision = 14;

    // The coefficients are scaled up by this many bits at most: the format has five bits for it, with a sign.
    private const int MostShift = 15;

    // Limits the folded residual to 32 bits.
    private const long MostResidual = 1 << 30;

    // Most sounds are best predicted by one of these orders; trying all of them is hardly better.
    private static readonly int[] PredictorOrders = [2, 4, 6, 8, 10, 12];

    private readonly LinearPrediction _prediction = new();
    private readonly int[] _samples;
    private uint[] _folded;
    private uint[] _tried;
    private RicePlan _rice = new();
    private RicePlan _triedRice = new();
    private int[] _coefficients = new int[LinearPrediction.MostOrder];
    private int[] _triedCoefficients = new int[LinearPrediction.MostOrder];
    private Form _form;
    private int _length;
    private int _sampleBits;
    private int _wasted;
    private int _order;
    private int _shift;

    /// <summary>Creates one for blocks of at most some length.</summary>
    public FlacSubframe(int mostSamples)
    {
        _samples = new int[mostSamples];
        _folded = new uint[mostSamples];
        _tried = new uint[mostSamples];
    }

    private enum Form
    {
        Constant,
        Verbatim,
        Fixed,
        Linear,
    }

    /// <summary>The size in bits.</summary>
    public long Bits { get; private set; }

    /// <summary>Takes the samples of a block and finds their smallest form.</summary>
    /// <param name="samples">The samples.</param>
    /// <param name="sampleBits">The bits of a sample: those of the file, and one more for the difference of two channels.</param>
    public void Take(ReadOnlySpan<int> samples, int sampleBits)
    {
        _length = samples.Length;
        var all = 0;
        foreach (var sample in samples)
        {
            all |= sample;
        }

        _wasted = all == 0 ? 0 : BitOperations.TrailingZeroCount(all);
        _sampleBits = sampleBits - _wasted;
        for (var i = 0; i < samples.Length; i++)
        {
            _samples[i] = samples[i] >> _wasted;
        }

        if (!samples.ContainsAnyExcept(samples[0]))
        {
            (_form, Bits) = (Form.Constant, HeaderBits + _sampleBits);
            return;
        }

        (_form, Bits) = (Form.Verbatim, HeaderBits + ((long)_sampleBits * _length));
        TryFixed();
        TryLinear();
    }

    /// <summary>Writes the subframe.</summary>
    public void Write(FlacBits bits)
    {
        bits.Write(
            _form switch
            {
                Form.Constant => 0b000000,
                Form.Verbatim => 0b000001,
                Form.Fixed => 0b001000 + _order,
                _ => 0b100000 + _order - 1,
            },
            7);
        bits.Write(_wasted > 0 ? 1 : 0, 1);
        if (_wasted > 0)
        {
            bits.WriteUnary((uint)_wasted - 1);
        }

        var plain = _form switch
        {
            Form.Constant => 1,
            Form.Verbatim => _length,
            _ => _order,
        };
        foreach (var sample in _samples.AsSpan(0, plain))
        {
            bits.Write(sample, _sampleBits);
        }

        if (_form == Form.Linear)
        {
            bits.Write(Precision - 1, 4);
            bits.Write(_shift, 5);
            foreach (var coefficient in _coefficients.AsSpan(0, _order))
            {
                bits.Write(coefficient, Precision);
            }
        }

        if (_form is Form.Fixed or Form.Linear)
        {
            _rice.Write(bits, _folded.AsSpan(0, _length), _order);
        }
    }

    private int HeaderBits => 8 + _wasted;

    private void TryFixed()
    {
        // Each order is the difference of the one before it.
        var differences = (Span<int>)stackalloc int[MostFixedOrder + 1];
        for (var order = 0; order <= MostFixedOrder && order < _length; order++)
        {
            differences.Clear();
            for (var i = 0; i < _length; i++)
            {
                var value = _samples[i];
                for (var step = 0; step < order; step++)
                {
                    (value, differences[step]) = (value - differences[step], value);
                }

                _tried[i] = i < order ? 0 : RicePlan.Folded(value);
            }

            Keep(Form.Fixed, order, 0, 0);
        }
    }

    private void TryLinear()
    {
        _prediction.Find(_samples.AsSpan(0, _length));
        foreach (var order in PredictorOrders)
        {
            if (order <= _prediction.Orders && Quantize(_prediction.Coefficients(order)) is { } shift && Predict(order, shift))
            {
                Keep(Form.Linear, order, shift, 4 + 5 + (order * Precision));
            }
        }
    }

    private void Keep(Form form, int order, int shift, int bitsOfPredictor)
    {
        _triedRice.Find(_tried.AsSpan(0, _length), order);
        var bits = HeaderBits + ((long)order * _sampleBits) + bitsOfPredictor + _triedRice.Bits;
        if (bits >= Bits)
        {
            return;
        }

        (Bits, _form, _order, _shift) = (bits, form, order, shift);
        (_folded, _tried) = (_tried, _folded);
        (_rice, _triedRice) = (_triedRice, _rice);
        if (form == Form.Linear)
        {
            (_coefficients, _triedCoefficients) = (_triedCoefficients, _coefficients);
        }
    }

    // Returns the scale in bits; null if the coefficients are too large for the format.
    private int? Quantize(ReadOnlySpan<double> coefficients)
    {
        const int Most = (1 << (Precision - 1)) - 1;
        var largest = 0.0;
        foreach (var coefficient in coefficients)
        {
            largest = Math.Max(largest, Math.Abs(coefficient));
        }

        if (!(largest > 0 && largest <= Most))
        {
            return null;
        }

        var shift = MostShift;
        while (shift > 0 && largest * (1 << shift) > Most)
        {
            shift--;
        }

        // Each coefficient takes over the rounding of those before it.
        var left = 0.0;
        for (var i = 0; i < coefficients.Length; i++)
        {
            left += coefficients[i] * (1 << shift);
            var rounded = Math.Clamp((int)Math.Round(left), -Most, Most);
            left -= rounded;
            _triedCoefficients[i] = rounded;
        }

        return shift;
    }

    // False if a residual is too large for the format.
    private bool Predict(int order, int shift)
    {
        _tried.AsSpan(0, order).Clear();
        var coefficients = _triedCoefficients.AsSpan(0, order);
        for (var i = order; i < _length; i++)
        {
            var earlier = _samples.AsSpan(i - order, order);
            long sum = 0;
            unchecked
            {
                // 14, 25 and 4 bits: no overflow.
                for (var j = 0; j < coefficients.Length; j++)
                {
                    sum += (long)coefficients[j] * earlier[order - 1 - j];
                }
            }

            var residual = _samples[i] - (sum >> shift);
            if (residual is >= MostResidual or <= -MostResidual)
            {
                return false;
            }

            _tried[i] = RicePlan.Folded((int)residual);
        }

        return true;
    }
}
