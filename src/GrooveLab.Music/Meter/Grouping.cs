using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Meter;

/// <summary>How the units of a bar are grouped: flat (3+2), nested ((3+2)+(2+2)), or undivided. An undivided bar is one beat with equal
/// units inside; it does not mean that the grouping is unknown.</summary>
public sealed class Grouping : IEquatable<Grouping>
{
    private Grouping(GroupNode root)
    {
        Root = root;
        var leaves = new List<int>();
        Collect(root, leaves);
        Groups = root.Children.Count == 0 ? [] : [.. leaves];
        Depth = root.Height;
    }

    /// <summary>The whole bar as a tree; a leaf is a group of units.</summary>
    public GroupNode Root { get; }

    /// <summary>The sizes of the smallest groups, in units, in order; empty when the bar is undivided.</summary>
    public IReadOnlyList<int> Groups { get; }

    /// <summary>Units in the bar.</summary>
    public int Units => Root.Units;

    /// <summary>True when the bar is undivided.</summary>
    public bool IsUndivided => Groups.Count == 0;

    /// <summary>True when a group contains groups.</summary>
    public bool IsNested => Depth > 1;

    /// <summary>Number of levels between the bar and its units: 0 undivided, 1 flat, more when nested.</summary>
    public int Depth { get; }

    /// <summary>An undivided bar with the given number of units.</summary>
    public static Grouping Undivided(int units)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(units, 1);
        return new Grouping(new GroupNode(units, []));
    }

    /// <summary>A flat grouping; a single group gives the undivided bar.</summary>
    public static Grouping Of(params IReadOnlyList<int> groups) =>
        groups.Count == 1
            ? Undivided(groups[0])
            : Of(new GroupNode(groups.Sum(), [.. groups.Select(units => new GroupNode(units, []))]));

    /// <summary>Creates a grouping from its tree.</summary>
    /// <exception cref="ArgumentException">A group has no units, or its parts do not add up to its size.</exception>
    public static Grouping Of(GroupNode root)
    {
        Check(root);
        return new Grouping(Unwrap(root));
    }

    /// <summary>The usual grouping of a bare time signature: 2+2 in 4/4; threes in 6/8, 9/8, 12/8 and the same numerators over other
    /// units; all others undivided. Common practice, no source.</summary>
    public static Grouping Usual(TimeSignature signature)
    {
        var units = signature.Numerator;
        if (units > 3 && units % 3 == 0 && units <= 12 && signature.Denominator >= 4)
        {
            return Of([.. Enumerable.Repeat(3, units / 3)]);
        }

        return signature.Numerator == 4 && signature.Denominator is 2 or 4 ? Of(2, 2) : Undivided(units);
    }

    /// <summary>Reads "3+2", "(3+2)+(2+2)", or "none" / "undivided" for a bar of <paramref name="units"/> units.</summary>
    /// <param name="text">The text to read.</param>
    /// <param name="units">Units in the bar; the sizes must add up to it.</param>
    /// <param name="grouping">The grouping read.</param>
    /// <param name="problem">What is wrong and what is accepted; null when the text is valid.</param>
    public static bool TryParse(
        string text, int units, [NotNullWhen(true)] out Grouping? grouping, [NotNullWhen(false)] out string? problem)
    {
        grouping = null;
        var body = text.Replace(" ", string.Empty, StringComparison.Ordinal).ToLowerInvariant();
        if (body is "none" or "undivided")
        {
            grouping = Undivided(units);
            problem = null;
            return true;
        }

        var reader = new Reader(body);
        if (!reader.TryReadSum(out var parts) || !reader.AtEnd)
        {
            problem = $"'{text}' is not a grouping; {Words.Meant(Words.Nearest(text, ["none"]))}write sizes joined by + such as 3+2 or (3+2)+(2+2), or none for an undivided bar";
            return false;
        }

        var total = parts.Sum(part => (long)part.Units);
        if (total != units)
        {
            problem = string.Create(
                CultureInfo.InvariantCulture,
                $"the grouping {text} adds up to {total}, but the bar has {units} units; make the sizes add up to {units}");
            return false;
        }

        var node = parts.Count == 1 ? parts[0] : new GroupNode(units, parts);
        grouping = Of(node);
        problem = null;
        return true;
    }

    /// <summary>The units on which the smallest groups start; just 0 when undivided.</summary>
    public IEnumerable<int> GroupStarts()
    {
        var at = 0;
        yield return at;
        for (var i = 0; i < Groups.Count - 1; i++)
        {
            at += Groups[i];
            yield return at;
        }
    }

    /// <inheritdoc/>
    public bool Equals(Grouping? other) => other is not null && Root.Equals(other.Root);

    /// <inheritdoc/>
    public override bool Equals(object? obj) => Equals(obj as Grouping);

    /// <inheritdoc/>
    public override int GetHashCode() => Root.GetHashCode();

    /// <summary>"3+2", "(3+2)+(2+2)" or "none".</summary>
    public override string ToString() => IsUndivided ? "none" : string.Join('+', Root.Children.Select(child => child.ToString()));

    // A group around a single group, as in "((3)+2)", means the same as that group.
    private static GroupNode Unwrap(GroupNode node)
    {
        while (node.Children.Count == 1)
        {
            node = node.Children[0];
        }

        return node.Children.Count == 0 ? node : new GroupNode(node.Units, [.. node.Children.Select(Unwrap)]);
    }

    private static void Check(GroupNode node)
    {
        if (node.Units < 1 || node.Units > TimeSignature.LargestNumerator)
        {
            throw new ArgumentException("A group has 1 to 64 units.", nameof(node));
        }

        if (node.Children.Count > 0 && node.Children.Sum(child => child.Units) != node.Units)
        {
            throw new ArgumentException("The parts of a group must add up to its size.", nameof(node));
        }

        foreach (var child in node.Children)
        {
            Check(child);
        }
    }

    private static void Collect(GroupNode node, List<int> leaves)
    {
        if (node.Children.Count == 0)
        {
            leaves.Add(node.Units);
            return;
        }

        foreach (var child in node.Children)
        {
            Collect(child, leaves);
        }
    }

    private ref struct Reader(string text)
    {
        private const int DeepestNesting = 8;
        private readonly ReadOnlySpan<char> _text = text;
        private int _at;
        private int _depth;

        public readonly bool AtEnd => _at == _text.Length;

        public bool TryReadSum(out List<GroupNode> parts)
        {
            parts = [];
            do
            {
                if (!TryReadPart(out var part))
                {
                    return false;
                }

                parts.Add(part);
            }
            while (Take('+'));
            return true;
        }

        private bool TryReadPart([NotNullWhen(true)] out GroupNode? part)
        {
            part = null;
            if (Take('('))
            {
                if (++_depth > DeepestNesting || !TryReadSum(out var inner) || !Take(')'))
                {
                    return false;
                }

                _depth--;
                part = inner.Count == 1 ? inner[0] : new GroupNode(inner.Sum(node => node.Units), inner);
                return true;
            }

            var start = _at;
            while (_at < _text.Length && char.IsAsciiDigit(_text[_at]))
            {
                _at++;
            }

            if (!int.TryParse(_text[start.._at], NumberStyles.None, CultureInfo.InvariantCulture, out var units)
                || units is < 1 or > TimeSignature.LargestNumerator)
            {
                return false;
            }

            part = new GroupNode(units, []);
            return true;
        }

        private bool Take(char wanted)
        {
            if (_at < _text.Length && _text[_at] == wanted)
            {
                _at++;
                return true;
            }

            return false;
        }
    }
}

/// <summary>A group in the tree of a <see cref="Grouping"/>, made of smaller groups or of plain units.</summary>
/// <param name="Units">Units in the group, the sum of its children if it has any.</param>
/// <param name="Children">The smaller groups, in order; empty for a group of plain units.</param>
public sealed record GroupNode(int Units, IReadOnlyList<GroupNode> Children)
{
    /// <summary>Number of group levels below this one.</summary>
    public int Height => Children.Count == 0 ? 0 : 1 + Children.Max(child => child.Height);

    /// <inheritdoc/>
    public bool Equals(GroupNode? other) =>
        other is not null && Units == other.Units && Children.SequenceEqual(other.Children);

    /// <inheritdoc/>
    public override int GetHashCode()
    {
        var hash = new HashCode();
        hash.Add(Units);
        foreach (var child in Children)
        {
            hash.Add(child);
        }

        return hash.ToHashCode();
    }

    /// <summary>"3" or "(3+2)".</summary>
    public override string ToString() =>
        Children.Count == 0
            ? Units.ToString(CultureInfo.InvariantCulture)
            : "(" + string.Join('+', Children.Select(child => child.ToString())) + ")";
}
