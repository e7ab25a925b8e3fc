namespace GrooveLab.Music.Time;

/// <summary>A straight line from one value to another, for tempi or for tempo factors. It is played in steps of half a unit, each with
/// the value at the middle of the step: the steps are exact, and on average as long as the line.</summary>
/// <param name="From">The start value.</param>
/// <param name="To">The end value, which then holds.</param>
public readonly record struct Ramp(Rational From, Rational To)
{
    /// <summary>The value at a point on the line.</summary>
    /// <param name="way">The progress: 0 or less is the start, 1 or more the end.</param>
    public Rational At(Rational way) => way <= Rational.Zero ? From : way >= Rational.One ? To : From + ((To - From) * way);

    /// <summary>The half units of a bar: the start of each, and its middle as a share of the bar.</summary>
    /// <param name="length">The bar's length.</param>
    /// <param name="unit">The meter's unit.</param>
    public static IEnumerable<(Span Onset, Rational Middle)> HalfUnits(Span length, Span unit)
    {
        var steps = (int)(length / unit * 2).Floor();
        for (var step = 0; step < steps; step++)
        {
            yield return (length * new Rational(step, steps), new Rational((2 * step) + 1, 2 * steps));
        }
    }
}
