namespace GrooveLab.Music.Time;

/// <summary>
/// A place in musical time, in whole notes from the first bar line; negative before it (count-in, pickup). Not a length: the
/// difference of two places is a <see cref="Span"/>, and two places cannot be added.
/// </summary>
public readonly record struct Position(Rational Wholes) : IComparable<Position>
{
    /// <summary>The first bar line.</summary>
    public static Position Zero => default;

    /// <summary>The place so much later.</summary>
    public static Position operator +(Position a, Span b) => new(a.Wholes + b.Wholes);

    /// <summary>The place so much earlier.</summary>
    public static Position operator -(Position a, Span b) => new(a.Wholes - b.Wholes);

    /// <summary>The way from <paramref name="b"/> to <paramref name="a"/>.</summary>
    public static Span operator -(Position a, Position b) => new(a.Wholes - b.Wholes);

    /// <summary>Earlier.</summary>
    public static bool operator <(Position a, Position b) => a.Wholes < b.Wholes;

    /// <summary>Later.</summary>
    public static bool operator >(Position a, Position b) => a.Wholes > b.Wholes;

    /// <summary>Not later.</summary>
    public static bool operator <=(Position a, Position b) => a.Wholes <= b.Wholes;

    /// <summary>Not earlier.</summary>
    public static bool operator >=(Position a, Position b) => a.Wholes >= b.Wholes;

    /// <inheritdoc/>
    public int CompareTo(Position other) => Wholes.CompareTo(other.Wholes);

    /// <summary>Whole notes from the first bar line.</summary>
    public override string ToString() => Wholes.ToString();
}
