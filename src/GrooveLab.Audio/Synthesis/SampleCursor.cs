using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>A voice's position in its sample, and how the sample continues. Plain data that a kernel carries from frame to frame.</summary>
internal unsafe struct SampleCursor
{
    /// <summary>The number of points in <see cref="Seam"/> on each side of the loop's end.</summary>
    public const int SeamReach = 16;

    /// <summary>Position in the pool: the point's index in the upper 32 bits, the fraction in the lower 32.</summary>
    public ulong Position;

    /// <summary>The change of position per frame.</summary>
    public ulong Increment;

    public int Start;
    public int End;
    public int LoopStart;
    public int LoopEnd;

    /// <summary>Whether the position jumps back at the loop's end.</summary>
    public bool IsLooping;

    /// <summary>Whether it has jumped: the point before the loop's first is then the loop's last.</summary>
    public bool HasLooped;

    /// <summary>Whether the points around both ends of the loop are equal, so that a read past one end gets the right values.</summary>
    public bool IsSeamless;

    /// <summary>
    /// A copy of the points before the loop's end, followed by those at the loop's start; may be null.
    /// </summary>
    public short* Seam;

    /// <summary>The first position at which every neighbour can be read in place. The reader computes and uses it.</summary>
    public ulong From;

    /// <summary>The end of the range that begins at <see cref="From"/>.</summary>
    public ulong To;

    /// <summary>Whether <see cref="From"/> and <see cref="To"/> are valid: false at the start and after entering or leaving the loop.</summary>
    public bool IsInsideKnown;

    /// <summary>Whether the sample has ended; the kernel sets it and outputs silence from then on.</summary>
    public bool HasEnded;

    /// <summary>A point near an edge: wraps around in a loop; silence outside the sample.</summary>
    public readonly float Point(SamplePool pool, int index)
    {
        unchecked
        {
            var length = LoopEnd - LoopStart;
            if (IsLooping && index >= LoopEnd)
                index = LoopStart + ((index - LoopStart) % length);
            else if (HasLooped && index < LoopStart)
                index = LoopEnd - 1 - ((LoopStart - 1 - index) % length);
            return index < Start || index >= End ? 0 : pool[index];
        }
    }

    /// <summary>Advances by a frame and wraps around in a loop.</summary>
    public void Advance()
    {
        unchecked
        {
            Position += Increment;
            if (IsLooping && (int)(Position >> 32) >= LoopEnd)
                WrapAround();
        }
    }

    /// <summary>Brings a position at or past the loop's end back into the loop.</summary>
    public void WrapAround()
    {
        unchecked
        {
            var start = (ulong)LoopStart << 32;
            var length = (ulong)(LoopEnd - LoopStart) << 32;
            // A remainder, not a subtraction: at high pitches one step can be longer than the loop.
            Position = start + ((Position - start) % length);
            IsInsideKnown &= HasLooped;
            HasLooped = true;
        }
    }
}
