namespace GrooveLab.Music.Time;

/// <summary>A place in musical time, in whole notes from the first bar line; negative before it (lead-in, pickup). The difference of two
/// places is a <see cref="Span"/>; places cannot be added.</summary>
public readonly record struct Position(Rational Wholes) : IComparable<Position>
{
    /// <summary>The first bar line.</summary>
    public static Position Zero => default;

    /// <summary>The place that much later.</summary>
    public static Position operator +(Position a, Span b) => new(a.Wholes + b.Wholes);

    /// <summary>The place that much earlier.</summary>
    public static Position operator -(Position a, Span b) => new(a.Wholes - b.Wholes);

    /// <summary>The span from <paramref name="b"/> to <paramref name="a"/>.</summary>
    public static Span operator -(Position a, Position b) => new(a.Wholes - b.Wholes);

    /// <summary>True when earlier.</summary>
    public static bool operator <(Position a, Position b) => a.Wholes < b.Wholes;

    /// <summary>True when later.</summary>
    public static bool operator >(Position a, Position b) => a.Wholes > b.Wholes;

    /// <summary>True when earlier or equal.</summary>
    public static bool operator <=(Position a, Position b) => a.Wholes <= b.Wholes;

    /// <summary>True when later or equal.</summary>
    public static bool operator >=(Position a, Position b) => a.Wholes >= b.Wholes;

    /// <inheritdoc/>
    public int CompareTo(Position other) => Wholes.CompareTo(other.Wholes);

    /// <summary>Whole notes from the first bar line.</summary>
    public override string ToString() => Wholes.ToString();
}
