using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Filter and gains of sixteen voices side by side: for each field of <see cref="LaneField"/> sixteen numbers in a row.</summary>
internal sealed unsafe class VoiceLanes
{
    /// <summary>Voices side by side.</summary>
    public const int Count = 16;

    private readonly float[] _fields = Pinned.Floats(Count * (int)LaneField.Count);

    public VoiceLanes() => Fields = Pinned.Address(_fields);

    /// <summary>The first number; good as long as this object is reachable.</summary>
    public float* Fields { get; }

    /// <summary>A bit for each lane whose voice is active.</summary>
    public uint Active { get; set; }

    /// <summary>One voice's column.</summary>
    public ref float this[LaneField field, int lane]
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get
        {
            // Unchecked for its speed: both come from this folder's own loops.
            unchecked
            {
                return ref *(Fields + (((int)field * Count) + lane));
            }
        }
    }

    /// <summary>Brings a column to rest: it adds nothing, whatever the others do.</summary>
    public void Clear(int lane)
    {
        for (var field = 0; field < (int)LaneField.Count; field++)
            _fields[(field * Count) + lane] = 0;
    }
}
