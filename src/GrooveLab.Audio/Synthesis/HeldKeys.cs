namespace GrooveLab.Audio.Synthesis;

/// <summary>The keys that are down on a channel that plays one note at a time, in the order in which they were pressed.</summary>
internal sealed class HeldKeys
{
    private readonly byte[] _keys = new byte[128];
    private readonly byte[] _velocities = new byte[128];
    private int _count;

    /// <summary>Whether no key is down.</summary>
    public bool IsEmpty => _count == 0;

    /// <summary>The key pressed last of those still down; meaningful only while one is.</summary>
    public int Latest => _keys[_count - 1];

    /// <summary>The velocity of <see cref="Latest"/>.</summary>
    public int LatestVelocity => _velocities[_count - 1];

    /// <summary>Adds a key; one that is already down becomes the latest.</summary>
    public void Press(int key, int velocity)
    {
        Lift(key);
        _keys[_count] = (byte)key;
        _velocities[_count] = (byte)velocity;
        _count++;
    }

    /// <summary>Removes a key, if it is down.</summary>
    public void Lift(int key)
    {
        var at = _keys.AsSpan(0, _count).IndexOf((byte)key);
        if (at < 0)
            return;
        _count--;
        _keys.AsSpan(at + 1, _count - at).CopyTo(_keys.AsSpan(at));
        _velocities.AsSpan(at + 1, _count - at).CopyTo(_velocities.AsSpan(at));
    }

    /// <summary>Removes all keys.</summary>
    public void Clear() => _count = 0;
}
