using System.Globalization;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Meter;

/// <summary>How bars group into hyperbars (several bars felt as one): a pattern of sizes that repeats from the start of a section. Bars
/// left over at the end of the section form a shorter group.</summary>
public sealed record BarGroups
{
    private readonly int[] _pattern;
    private readonly int _sum;

    /// <summary>Creates the pattern.</summary>
    /// <exception cref="ArgumentException">Empty, or a size outside 1-64.</exception>
    public BarGroups(params IReadOnlyList<int> pattern)
    {
        if (pattern.Count == 0 || pattern.Any(size => size is < 1 or > 64))
        {
            throw new ArgumentException("The sizes of bar groups must be 1 to 64 bars, at least one size.", nameof(pattern));
        }

        _pattern = [.. pattern];
        _sum = _pattern.Sum();
    }

    /// <summary>The sizes in bars.</summary>
    public IReadOnlyList<int> Pattern => _pattern;

    /// <summary>The position of the <paramref name="counted"/>-th counted bar (from 0) of the <paramref name="total"/> in its
    /// section.</summary>
    public BarGroupPlace PlaceOf(int counted, int total)
    {
        var round = counted / _sum;
        var left = counted % _sum;
        var group = round * _pattern.Length;
        var start = round * _sum;
        foreach (var size in _pattern)
        {
            if (left < size)
            {
                return new BarGroupPlace(group, left, Math.Min(size, total - start));
            }

            left -= size;
            start += size;
            group++;
        }

        throw new InvalidOperationException("No bar group covers this bar.");
    }

    /// <inheritdoc/>
    public bool Equals(BarGroups? other) => other is not null && _pattern.AsSpan().SequenceEqual(other._pattern);

    /// <inheritdoc/>
    public override int GetHashCode() => ToString().GetHashCode(StringComparison.Ordinal);

    /// <summary>"4" or "4+4+2".</summary>
    public override string ToString() => string.Join('+', _pattern.Select(size => size.ToString(CultureInfo.InvariantCulture)));
}

/// <summary>The position of a bar in its group.</summary>
/// <param name="Group">The group's number in its section, from 0.</param>
/// <param name="Index">The bar's number in the group, from 0.</param>
/// <param name="Size">Bars in the group.</param>
public readonly record struct BarGroupPlace(int Group, int Index, int Size)
{
    /// <summary>The length of the group where its bars differ in length; null where all are as long as this one.</summary>
    public Span? Length { get; init; }

    /// <summary>The length of the group: the sum of its bars.</summary>
    /// <param name="meter">The meter of this bar.</param>
    public Span LengthIn(BarMeter meter) => Length ?? meter.Length * Size;

    /// <summary>True for the bar that starts the group.</summary>
    public bool IsFirst => Index == 0;

    /// <summary>True for the bar that ends the group.</summary>
    public bool IsLast => Index == Size - 1;
}
