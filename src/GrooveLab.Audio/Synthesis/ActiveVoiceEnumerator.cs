using System.Numerics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Enumerates the voices that are active when it reaches their group; idle voices cost nothing. For <c>foreach</c>, without
/// allocating.
/// </summary>
internal struct ActiveVoiceEnumerator(VoiceGroup[] groups)
{
    private int _group = -1;
    private uint _left;

    public Voice Current { get; private set; } = null!;

    public readonly ActiveVoiceEnumerator GetEnumerator() => this;

    public bool MoveNext()
    {
        while (_left == 0)
        {
            if (++_group >= groups.Length)
                return false;
            _left = groups[_group].ActiveLanes;
        }
        Current = groups[_group][BitOperations.TrailingZeroCount(_left)];
        _left &= _left - 1;
        return true;
    }
}
