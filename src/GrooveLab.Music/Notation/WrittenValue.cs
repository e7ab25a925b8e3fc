using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>The base of a written note value. Its number is the base-2 logarithm of its length in whole notes: 0 whole, -2
/// quarter.</summary>
public enum NoteBase
{
    /// <summary>Eight whole notes.</summary>
    Maxima = 3,

    /// <summary>Four whole notes.</summary>
    Long = 2,

    /// <summary>Two whole notes.</summary>
    Breve = 1,

    /// <summary>A whole note.</summary>
    Whole = 0,

    /// <summary>A half note.</summary>
    Half = -1,

    /// <summary>A quarter note.</summary>
    Quarter = -2,

    /// <summary>An eighth note.</summary>
    Eighth = -3,

    /// <summary>A sixteenth note.</summary>
    Sixteenth = -4,

    /// <summary>A thirty-second note.</summary>
    ThirtySecond = -5,

    /// <summary>A sixty-fourth note.</summary>
    SixtyFourth = -6,

    /// <summary>A 128th note.</summary>
    N128 = -7,

    /// <summary>A 256th note.</summary>
    N256 = -8,

    /// <summary>A 512th note.</summary>
    N512 = -9,

    /// <summary>A 1024th note.</summary>
    N1024 = -10,
}

/// <summary>A note value as drawn: a base and its dots, without tuplets; for those see <see cref="WrittenValue"/>.</summary>
public readonly record struct NoteUnit
{
    /// <summary>Maximum number of dots.</summary>
    public const int MostDots = 8;

    /// <summary>Creates a value.</summary>
    /// <exception cref="ArgumentOutOfRangeException">An undefined base, or fewer than 0 or more than 8 dots.</exception>
    public NoteUnit(NoteBase noteBase, int dots = 0)
    {
        if (noteBase is < NoteBase.N1024 or > NoteBase.Maxima)
        {
            throw new ArgumentOutOfRangeException(nameof(noteBase), noteBase, "A note value must be a maxima to a 1024th.");
        }

        if (dots is < 0 or > MostDots)
        {
            throw new ArgumentOutOfRangeException(nameof(dots), dots, "A note must have 0 to 8 dots.");
        }

        Base = noteBase;
        Dots = dots;
    }

    /// <summary>The base.</summary>
    public NoteBase Base { get; }

    /// <summary>Dots, 0 to 8; each adds half of what the previous added.</summary>
    public int Dots { get; }

    /// <summary>The exact length.</summary>
    public Span Length
    {
        get
        {
            var plain = Base >= NoteBase.Whole ? new Rational(1L << (int)Base, 1) : new Rational(1, 1L << -(int)Base);
            return new Span(plain * new Rational((1L << (Dots + 1)) - 1, 1L << Dots));
        }
    }

    /// <summary>The value of a length with the fewest dots, at most three.</summary>
    /// <returns>False when no base with up to three dots has the length.</returns>
    public static bool TryFrom(Span length, out NoteUnit unit)
    {
        unit = default;
        var above = length.Wholes.Numerator;
        if (length <= Span.Zero || !long.IsPow2(length.Wholes.Denominator))
        {
            return false;
        }

        // 1, 3, 7 or 15 times a power of two.
        var shift = (int)long.TrailingZeroCount(above);
        var odd = above >> shift;
        var dots = odd switch { 1 => 0, 3 => 1, 7 => 2, 15 => 3, _ => -1 };
        var exponent = shift - (int)long.Log2(length.Wholes.Denominator) + dots;
        if (dots < 0 || exponent is < (int)NoteBase.N1024 or > (int)NoteBase.Maxima)
        {
            return false;
        }

        unit = new NoteUnit((NoteBase)exponent, dots);
        return true;
    }

    /// <summary>"quarter", "dotted eighth", "triple dotted half".</summary>
    public override string ToString()
    {
        var dots = Dots switch { 0 => "", 1 => "dotted ", 2 => "double dotted ", 3 => "triple dotted ", var many => $"{many} times dotted " };
        var name = Base switch
        {
            NoteBase.SixtyFourth => "sixty-fourth",
            NoteBase.ThirtySecond => "thirty-second",
            < NoteBase.SixtyFourth => string.Create(CultureInfo.InvariantCulture, $"{1 << -(int)Base}th"),
            _ => Base.ToString().ToLowerInvariant(),
        };
        return dots + name;
    }
}

/// <summary>A tuplet: <paramref name="Actual"/> notes in the time of <paramref name="Normal"/>. Notes of one voice with equal tuplets
/// belong to the same tuplet; adjacent tuplets of the same ratio differ in their <paramref name="Id"/>.</summary>
/// <param name="Id">Distinguishes the tuplets of a part; has no other meaning.</param>
/// <param name="Actual">Number of notes played, at least 1.</param>
/// <param name="Normal">Number of notes in whose time they are played, at least 1.</param>
public sealed record Tuplet(int Id, int Actual, int Normal)
{
    /// <summary>Number of notes played, at least 1.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below 1.</exception>
    public int Actual { get; init => field = AtLeastOne(value); } = AtLeastOne(Actual);

    /// <summary>Number of notes in whose time they are played, at least 1.</summary>
    /// <exception cref="ArgumentOutOfRangeException">Below 1.</exception>
    public int Normal { get; init => field = AtLeastOne(value); } = AtLeastOne(Normal);

    /// <summary>True when a number or bracket is drawn; false when the ratio applies without a sign, as in a tremolo between two
    /// notes.</summary>
    public bool IsDrawn { get; init; } = true;

    /// <summary>How the played side is shown, if given separately; otherwise null.</summary>
    public TupletSide? ShownActual { get; init; }

    /// <summary>How the normal side is shown, if given separately; otherwise null.</summary>
    public TupletSide? ShownNormal { get; init; }

    /// <summary>The factor by which written values are shortened.</summary>
    public Rational Ratio => new(Normal, Actual);

    private static int AtLeastOne(int count) =>
        count >= 1 ? count : throw new ArgumentOutOfRangeException(nameof(count), count, "A tuplet needs at least one note on each side.");
}

/// <summary>One side of a tuplet as shown: "3", "3 eighths". Either may be missing.</summary>
/// <param name="Number">The number; null if not given.</param>
/// <param name="Unit">The note value beside it; null if not given.</param>
public sealed record TupletSide(int? Number, NoteUnit? Unit);

/// <summary>A written note value with its tuplets. Its length is exact: base and dots, shortened by each tuplet.</summary>
public sealed record WrittenValue
{
    /// <summary>Maximum nesting depth of tuplets.</summary>
    public const int DeepestNesting = 8;

    /// <summary>Creates a value.</summary>
    /// <param name="unit">Base and dots.</param>
    /// <param name="tuplets">The tuplets, outermost first.</param>
    /// <exception cref="ArgumentException">More than eight nested tuplets, or the same one twice.</exception>
    public WrittenValue(NoteUnit unit, params ReadOnlySpan<Tuplet> tuplets)
    {
        if (tuplets.Length > DeepestNesting)
        {
            throw new ArgumentException("Tuplets can be nested at most eight deep.", nameof(tuplets));
        }

        for (var i = 0; i < tuplets.Length; i++)
        {
            for (var j = 0; j < i; j++)
            {
                if (tuplets[i].Id == tuplets[j].Id)
                {
                    throw new ArgumentException("A tuplet cannot be inside itself.", nameof(tuplets));
                }
            }
        }

        Unit = unit;
        Tuplets = ValueList.Create(tuplets);
    }

    /// <summary>Creates a value without tuplets.</summary>
    public WrittenValue(NoteBase noteBase, int dots = 0)
        : this(new NoteUnit(noteBase, dots))
    {
    }

    /// <summary>Base and dots.</summary>
    public NoteUnit Unit { get; }

    /// <summary>The tuplets around it, outermost first; usually none.</summary>
    public ValueList<Tuplet> Tuplets { get; }

    /// <summary>The note value that the tuplet's normal side counts, if the note gives a different one from its own; otherwise
    /// null.</summary>
    public NoteUnit? CountedIn { get; init; }

    /// <summary>The factor by which all tuplets together shorten it; 1 without tuplets.</summary>
    public Rational Ratio
    {
        get
        {
            var ratio = Rational.One;
            foreach (var tuplet in Tuplets)
            {
                ratio *= tuplet.Ratio;
            }

            return ratio;
        }
    }

    /// <summary>The exact length.</summary>
    public Span Length => Unit.Length * Ratio;

    /// <summary>The simple value of a length: a base with up to three dots and no tuplet.</summary>
    public static bool TryFrom(Span length, [NotNullWhen(true)] out WrittenValue? value)
    {
        value = NoteUnit.TryFrom(length, out var unit) ? new WrittenValue(unit) : null;
        return value is not null;
    }

    /// <summary>The same tuplets with another base and dots.</summary>
    public WrittenValue With(NoteUnit unit) => new(unit, Tuplets.AsSpan());
}
