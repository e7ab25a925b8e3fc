using System.Text;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>How notes are written in a tune.</summary>
/// <param name="InUnits">Lengths as numbers of the meter's units where they are some; else as fractions of a whole note.</param>
/// <param name="Carries">A length is left out where the note before has it.</param>
/// <param name="Decimals">Half units as 1.5, not as a fraction.</param>
/// <param name="Dots">Dotted values with a dot, 1/4., not as 3/8.</param>
/// <param name="TupletsInUnits">In tuplets, lengths as numbers of units.</param>
internal sealed record NoteStyle(bool InUnits = true, bool Carries = true, bool Decimals = false, bool Dots = true, bool TupletsInUnits = false)
{
    /// <summary>A length as it is written.</summary>
    public string Length(Span length, Span unit, bool inTuplet = false)
    {
        var whole = NoteLength.OfAWhole(length, Dots);
        var isPlain = whole.StartsWith("1/", StringComparison.Ordinal);
        return ((inTuplet ? TupletsInUnits : InUnits) ? NoteLength.InUnits(length, unit, Decimals || !isPlain) : null) ?? whole;
    }
}

/// <summary>
/// Writes the notes of a bar as a musician would: plain lengths where there are some, and tuplets where there are none. It keeps in mind which
/// length a note without one is read with.
/// </summary>
/// <param name="style">How notes are written.</param>
internal sealed class NoteWriter(NoteStyle style)
{
    private const int LargestTuplet = 64;

    /// <summary>How notes are written.</summary>
    public NoteStyle Style => style;

    /// <summary>The length that a note without one would be read with; null where none was said yet.</summary>
    public Span? Carried { get; set; }

    /// <summary>True to write the next length even where it is carried on: from a tuplet, or into one, nobody reads it so.</summary>
    public bool SaysNext { get; set; }

    /// <summary>The length that a note without one is read with in a bar, which then holds on.</summary>
    public Span CarriedIn(BarMeter meter) => Carried ??= meter.Unit;

    /// <summary>Writes stretches of a bar.</summary>
    /// <param name="stretches">The stretches, one after the other.</param>
    /// <param name="meter">The bar's meter.</param>
    /// <param name="wholeBar">True when they fill the bar.</param>
    public string Write(IReadOnlyList<TuneStretch> stretches, BarMeter meter, bool wholeBar)
    {
        if (wholeBar && stretches is [{ Pitch: null }])
        {
            CarriedIn(meter);
            return "r";
        }

        var text = new StringBuilder();
        for (var i = 0; i < stretches.Count;)
        {
            text.Append(text.Length > 0 ? " " : string.Empty);
            var (count, many, of) = Tuplet(stretches, i, meter.Unit);
            if (count == 0)
            {
                Add(text, stretches[i], stretches[i].Length, meter.Unit, inTuplet: false);
                i++;
                continue;
            }

            SaysNext = true;
            text.Append('{').Append(many).Append(':').Append(of);
            for (var end = i + count; i < end; i++)
            {
                text.Append(' ');
                Add(text, stretches[i], stretches[i].Length * new Rational(many, of), meter.Unit, inTuplet: true);
            }

            SaysNext = true;
            text.Append('}');
        }

        return text.ToString();
    }

    // From the first stretch that is no plain value to where plain values go on: so many stretches, so many notes in the time of fewer. None
    // where that would not make plain values of them.
    private static (int Count, int Many, int Of) Tuplet(IReadOnlyList<TuneStretch> stretches, int from, Span unit)
    {
        var many = 1L;
        var total = Span.Zero;
        var end = from;
        do
        {
            many = Multiple(many, Odd(stretches[end].Length, unit));
            total += stretches[end].Length;
            end++;
        }
        while (many is > 1 and <= LargestTuplet && Odd(total, unit) > 1 && end < stretches.Count);

        if (many is 1 or > LargestTuplet)
        {
            return (0, 1, 1);
        }

        var of = 1;
        while (2 * of < many)
        {
            of *= 2;
        }

        var factor = new Rational(many, of);
        return stretches.Skip(from).Take(end - from).All(stretch => IsPlain(stretch.Length * factor, unit)) ? (end - from, (int)many, of) : (0, 1, 1);
    }

    private static bool IsPlain(Span length, Span unit) =>
        (length / unit).IsInteger || NoteLength.OfAWhole(length, dots: true).StartsWith("1/", StringComparison.Ordinal);

    // What is left below the line of a length when all halving is taken out, in units or of a whole note; 1 for a plain value.
    private static long Odd(Span length, Span unit) => Math.Min(OddPart((length / unit).Denominator), OddPart(length.Wholes.Denominator));

    private static long OddPart(long number)
    {
        while (number % 2 == 0)
        {
            number /= 2;
        }

        return number;
    }

    private static long Multiple(long a, long b)
    {
        var (x, y) = (a, b);
        while (y != 0)
        {
            (x, y) = (y, x % y);
        }

        return a / x * b;
    }

    private void Add(StringBuilder text, TuneStretch stretch, Span written, Span unit, bool inTuplet)
    {
        if (stretch.Graces.Count > 0)
        {
            text.Append('(').AppendJoin(' ', stretch.Graces).Append(')');
        }

        text.Append(stretch.Pitch is { } pitch ? pitch.ToString() : "r");

        // A rest alone in its bar would be read as the whole bar's.
        if (!style.Carries || SaysNext || Carried != written || stretch.Pitch is null)
        {
            text.Append(':').Append(style.Length(written, unit, inTuplet));
            Carried = written;
            SaysNext = false;
        }

        text.Append(stretch.Tied ? "~" : string.Empty);
    }
}
