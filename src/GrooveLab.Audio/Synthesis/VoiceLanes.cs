using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Filter and gains of 32 voices side by side: a row of 32 numbers for each <see cref="LaneField"/>.</summary>
internal sealed unsafe class VoiceLanes
{
    /// <summary>Number of voices.</summary>
    public const int Count = 32;

    private readonly float[] _fields = Pinned.Floats(Count * (int)LaneField.Count);

    public VoiceLanes() => Fields = Pinned.Address(_fields);

    /// <summary>The first number; valid as long as this object is reachable.</summary>
    public float* Fields { get; }

    /// <summary>A bit for each lane with an active voice.</summary>
    public uint Active { get; set; }

    /// <summary>A voice's number for a field.</summary>
    public ref float this[LaneField field, int lane]
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get
        {
            // Unchecked for speed: both come from this folder's own loops.
            unchecked
            {
                return ref *(Fields + (((int)field * Count) + lane));
            }
        }
    }

    /// <summary>Makes a column idle: it then adds nothing, whatever the others do.</summary>
    public void Clear(int lane)
    {
        for (var field = 0; field < (int)LaneField.Count; field++)
            _fields[(field * Count) + lane] = 0;
    }
}
