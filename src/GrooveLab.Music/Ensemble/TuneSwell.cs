using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>The expression of a tune part: long notes swell and fall, all others are level. Only for instruments that can hold a
/// note.</summary>
/// <remarks>Common practice, no source: a singer's long note grows and fades.</remarks>
internal static class TuneSwell
{
    /// <summary>MIDI controller for expression.</summary>
    private const int Expression = 11;

    /// <summary>The expression of a note that does not swell: about the mean loudness of a swell.</summary>
    private const int Level = 117;

    /// <summary>The expression at the ends and in the middle of a swell: 3.1 dB apart by the default curve of SoundFonts.</summary>
    private const int Softest = 106, Loudest = 127;

    /// <summary>The fewest and the most steps of a swell.</summary>
    private const int FewestSteps = 4, MostSteps = 128;

    /// <summary>Notes longer than this swell, in seconds.</summary>
    private static readonly Rational Long = new(3, 5);

    /// <summary>The approximate interval of the steps of a swell, in seconds.</summary>
    private static readonly Rational Step = new(1, 20);

    /// <summary>True when a part's notes swell.</summary>
    public static bool Has(Part part) => part.Instrument.Holds && part.Settings is TuneSettings { Phrasing: true };

    /// <summary>The velocity at which a note of such a part is as loud as one of that velocity without expression.</summary>
    public static int VelocityOf(int velocity) => ((velocity * Loudest) + (Level / 2)) / Level;

    /// <summary>The points of a note's curve, placed as the note is.</summary>
    /// <param name="part">The index of the part.</param>
    /// <param name="onset">The note's place.</param>
    /// <param name="length">Its sounding length.</param>
    /// <param name="tempo">The tempo at the note.</param>
    public static IEnumerable<ControlPoint> Of(int part, Span onset, Span length, Tempo tempo)
    {
        var seconds = tempo.Seconds(length);
        if (seconds <= Long)
        {
            yield return new ControlPoint(part, onset, Expression, Level, 0);
            yield break;
        }

        var steps = (int)Rational.Min(Rational.Max((seconds / Step).Round(), FewestSteps), MostSteps).Floor();
        var before = -1;
        for (var step = 0; step < steps; step++)
        {
            var value = Softest + (int)Math.Round((Loudest - Softest) * Math.Sin(Math.PI * step / (steps - 1)));
            if (value != before)
            {
                yield return new ControlPoint(part, onset + (length * new Rational(step, steps)), Expression, value, 0);
            }

            before = value;
        }
    }

    /// <summary>The point before a note outside the form, which has the full level.</summary>
    public static ControlPoint Full(int part) => new(part, Span.Zero, Expression, Loudest, 0);
}
