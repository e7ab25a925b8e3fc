using System.Diagnostics.CodeAnalysis;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Meter;

/// <summary>A time signature with its grouping: 5/8 as 3+2 differs from 5/8 as 2+3, and both from the undivided 5/8.</summary>
public sealed record BarMeter
{
    /// <summary>Creates a meter.</summary>
    /// <exception cref="ArgumentException">The grouping does not add up to the numerator.</exception>
    public BarMeter(TimeSignature signature, Grouping grouping)
    {
        if (grouping.Units != signature.Numerator)
        {
            throw new ArgumentException("The grouping must add up to the numerator.", nameof(grouping));
        }

        Signature = signature;
        Grouping = grouping;
        GroupSizes = grouping.IsUndivided ? [grouping.Units] : [.. grouping.Groups];
        GroupStartUnits = [.. grouping.GroupStarts()];
        UnitDepths = Depths(grouping);
    }

    /// <summary>The time signature.</summary>
    public TimeSignature Signature { get; }

    /// <summary>How the units are grouped.</summary>
    public Grouping Grouping { get; }

    /// <summary>The length of a unit.</summary>
    public Span Unit => Signature.Unit;

    /// <summary>The length of the bar.</summary>
    public Span Length => Signature.Bar;

    /// <summary>Units in the bar.</summary>
    public int Units => Signature.Numerator;

    /// <summary>The sizes of the smallest groups, in units; an undivided bar is one group of all its units.</summary>
    public IReadOnlyList<int> GroupSizes { get; }

    /// <summary>The units on which those groups start.</summary>
    public IReadOnlyList<int> GroupStartUnits { get; }

    /// <summary>For each unit, the highest level that starts on it: 0 the bar, 1 an outermost group, higher numbers for nested groups,
    /// and <c>Grouping.Depth + 1</c> for a plain unit.</summary>
    public IReadOnlyList<int> UnitDepths { get; }

    /// <summary>The index of the smallest group that contains the unit.</summary>
    public int GroupOf(int unit)
    {
        var group = GroupStartUnits.Count - 1;
        while (group > 0 && GroupStartUnits[group] > unit)
        {
            group--;
        }

        return group;
    }

    /// <summary>The metrical weight of a place in the bar: 0 on the bar line, one less for each level from the groups to the units, and
    /// below the units one less for each prime factor that divides a unit (halves -1, quarters -2, thirds -1).</summary>
    /// <remarks>Longuet-Higgins and Lee (1984) for divisive meters; in additive meters each group has its own subtree.</remarks>
    /// <param name="offset">Distance from the bar line, at least 0 and less than the bar's length.</param>
    /// <exception cref="ArgumentOutOfRangeException">Outside the bar.</exception>
    public int WeightAt(Span offset)
    {
        if (offset < Span.Zero || offset >= Length)
        {
            throw new ArgumentOutOfRangeException(nameof(offset), "The place is outside the bar.");
        }

        var units = offset / Unit;
        return units.IsInteger
            ? -UnitDepths[(int)units.Numerator]
            : -(Grouping.Depth + 1) - PrimeFactors.CountOf(units.Denominator);
    }

    /// <summary>True when time signature and grouping are the same.</summary>
    public bool Equals(BarMeter? other) =>
        other is not null && Signature == other.Signature && Grouping.Equals(other.Grouping);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Signature, Grouping);

    /// <summary>Reads "5/8", "5/8 3+2", "9/8 (2+2)+(2+3)" or "5/8 none"; without a grouping it uses the usual one.</summary>
    public static bool TryParse(
        string text, [NotNullWhen(true)] out BarMeter? meter, [NotNullWhen(false)] out string? problem)
    {
        meter = null;
        var body = text.Trim();
        var gap = body.IndexOf(' ');
        var head = gap < 0 ? body : body[..gap];
        if (!TimeSignature.TryParse(head, out var signature))
        {
            problem = $"'{text}' is not a meter; write units over unit such as 5/8 (1 to 64 over 1 to 64), "
                + "optionally followed by its grouping: 5/8 3+2";
            return false;
        }

        if (gap < 0)
        {
            meter = new BarMeter(signature, Grouping.Usual(signature));
            problem = null;
            return true;
        }

        if (!Grouping.TryParse(body[(gap + 1)..].Trim(), signature.Numerator, out var grouping, out problem))
        {
            return false;
        }

        meter = new BarMeter(signature, grouping);
        return true;
    }

    /// <summary>"5/8 3+2", or "5/8 none" for an undivided bar.</summary>
    public override string ToString() => $"{Signature} {Grouping}";

    private static int[] Depths(Grouping grouping)
    {
        var depths = new int[grouping.Units];
        Array.Fill(depths, grouping.Depth + 1);
        Mark(grouping.Root, 0, 0, depths);
        return depths;
    }

    private static void Mark(GroupNode node, int start, int depth, int[] depths)
    {
        depths[start] = Math.Min(depths[start], depth);
        foreach (var child in node.Children)
        {
            Mark(child, start, depth + 1, depths);
            start += child.Units;
        }
    }
}
