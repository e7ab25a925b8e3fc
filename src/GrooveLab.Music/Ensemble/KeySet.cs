using System.Collections;

namespace GrooveLab.Music.Ensemble;

/// <summary>A set of keys from 0 to 127, a bit for each, so that every note can cheaply ask what sounds beside it. Keys outside that range are
/// left out.</summary>
internal readonly record struct KeySet(UInt128 Bits) : IEnumerable<int>
{
    private const int Keys = 128;

    /// <summary>No keys.</summary>
    public static KeySet None => default;

    /// <summary>True without any key.</summary>
    public bool IsEmpty => Bits == UInt128.Zero;

    /// <summary>Some keys.</summary>
    public static KeySet Of(IEnumerable<int> keys)
    {
        var set = None;
        foreach (var key in keys)
        {
            set = set.With(key);
        }

        return set;
    }

    /// <summary>All keys from one up to another, inclusive; none if the second is lower.</summary>
    public static KeySet Range(int low, int high)
    {
        (low, high) = (Math.Max(low, 0), Math.Min(high, Keys - 1));
        return low > high ? None : new KeySet((UInt128.MaxValue >> (Keys - 1 - (high - low))) << low);
    }

    /// <summary>The keys of both.</summary>
    public static KeySet operator |(KeySet one, KeySet two) => new(one.Bits | two.Bits);

    /// <summary>The keys of the first that are not in the second.</summary>
    public static KeySet operator -(KeySet one, KeySet two) => new(one.Bits & ~two.Bits);

    /// <summary>True when a key is in it.</summary>
    public bool Contains(int key) => key is >= 0 and < Keys && (Bits >> key & UInt128.One) != UInt128.Zero;

    /// <summary>True when a key of another set is in it.</summary>
    public bool Meets(KeySet other) => (Bits & other.Bits) != UInt128.Zero;

    /// <summary>The set with a key more.</summary>
    public KeySet With(int key) => key is >= 0 and < Keys ? new KeySet(Bits | UInt128.One << key) : this;

    /// <inheritdoc/>
    public IEnumerator<int> GetEnumerator()
    {
        for (var left = Bits; left != UInt128.Zero; left &= left - 1)
        {
            yield return (int)UInt128.TrailingZeroCount(left);
        }
    }

    IEnumerator IEnumerable.GetEnumerator() => GetEnumerator();
}
