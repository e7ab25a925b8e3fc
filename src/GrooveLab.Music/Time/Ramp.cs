namespace GrooveLab.Music.Time;

/// <summary>
/// A straight line from one value to another, of tempi or of factors of a tempo. It is played in steps of half a unit, each as fast as the
/// line is in the step's middle, so that the steps are exact and together last as the line would have them on the average.
/// </summary>
/// <param name="From">Where it begins.</param>
/// <param name="To">What it reaches, and where it stays.</param>
public readonly record struct Ramp(Rational From, Rational To)
{
    /// <summary>The value on the way.</summary>
    /// <param name="way">How much of the way is done: 0 and less is the beginning, 1 and more the end.</param>
    public Rational At(Rational way) => way <= Rational.Zero ? From : way >= Rational.One ? To : From + ((To - From) * way);

    /// <summary>The half units of a bar: where each starts, and where its middle lies as a share of the bar.</summary>
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
