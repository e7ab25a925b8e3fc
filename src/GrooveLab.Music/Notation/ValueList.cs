using System.Collections;
using System.Runtime.CompilerServices;

namespace GrooveLab.Music.Notation;

/// <summary>Creates lists with value equality; collection expressions use it.</summary>
public static class ValueList
{
    /// <summary>A list with these items, copied.</summary>
    /// <exception cref="ArgumentNullException">An item is null.</exception>
    public static ValueList<T> Create<T>(ReadOnlySpan<T> items) => items.IsEmpty ? ValueList<T>.Empty : new ValueList<T>(items.ToArray());
}

/// <summary>An immutable list with value equality: equal when all items are equal, in order. Records that contain one therefore compare
/// by content. No item is null.</summary>
[CollectionBuilder(typeof(ValueList), nameof(ValueList.Create))]
public sealed class ValueList<T> : IReadOnlyList<T>, IEquatable<ValueList<T>>
{
    private readonly T[] _items;

    internal ValueList(T[] items)
    {
        foreach (var item in items)
        {
            ArgumentNullException.ThrowIfNull(item);
        }

        _items = items;
    }

    /// <summary>The empty list.</summary>
    internal static ValueList<T> Empty { get; } = new([]);

    /// <summary>The number of items.</summary>
    public int Count => _items.Length;

    /// <summary>An item, counted from 0.</summary>
    /// <exception cref="IndexOutOfRangeException">The index is out of range.</exception>
    public T this[int index] => _items[index];

    /// <summary>The items without copying them.</summary>
    public ReadOnlySpan<T> AsSpan() => _items;

    /// <inheritdoc/>
    public bool Equals(ValueList<T>? other) =>
        ReferenceEquals(this, other) || (other is not null && _items.AsSpan().SequenceEqual(other._items, EqualityComparer<T>.Default));

    /// <inheritdoc/>
    public override bool Equals(object? obj) => Equals(obj as ValueList<T>);

    /// <inheritdoc/>
    public override int GetHashCode()
    {
        var hash = new HashCode();
        foreach (var item in _items)
        {
            hash.Add(item);
        }

        return hash.ToHashCode();
    }

    /// <inheritdoc/>
    public IEnumerator<T> GetEnumerator() => ((IEnumerable<T>)_items).GetEnumerator();

    IEnumerator IEnumerable.GetEnumerator() => GetEnumerator();

    /// <summary>The items in brackets.</summary>
    public override string ToString() => "[" + string.Join(", ", _items) + "]";
}
