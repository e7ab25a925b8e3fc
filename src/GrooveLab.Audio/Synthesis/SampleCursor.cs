using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Where a voice is in its sample, and how the sample runs. Plain data, carried from frame to frame by a kernel.</summary>
internal unsafe struct SampleCursor
{
    /// <summary>How many points of <see cref="Seam"/> lie on each side of the loop's end.</summary>
    public const int SeamReach = 16;

    /// <summary>Place in the pool: the point's index in the upper 32 bits, the fraction after it in the lower.</summary>
    public ulong Position;

    /// <summary>How far a frame moves the position.</summary>
    public ulong Increment;

    public int Start;
    public int End;
    public int LoopStart;
    public int LoopEnd;

    /// <summary>Whether the position jumps back at the loop's end.</summary>
    public bool IsLooping;

    /// <summary>Whether it has done so: the point before the loop's first is then the loop's last.</summary>
    public bool HasLooped;

    /// <summary>Whether the points around the loop's ends are the same, so that reading past an end reads what the loop has there.</summary>
    public bool IsSeamless;

    /// <summary>
    /// A copy of the points before the loop's end, followed by those that the loop goes on with. Null where there is none.
    /// </summary>
    public short* Seam;

    /// <summary>Between which positions every neighbour can be read where it lies; the reader's, which works it out where it is not known.</summary>
    public ulong From;

    /// <summary>See <see cref="From"/>.</summary>
    public ulong To;

    /// <summary>Whether <see cref="From"/> and <see cref="To"/> hold: not at the start, nor once the loop is entered or left.</summary>
    public bool IsInsideKnown;

    /// <summary>Whether the sample is over; set by the kernel, which gives silence from there on.</summary>
    public bool HasEnded;

    /// <summary>A point near an edge: round the loop where there is one, silence outside the sample.</summary>
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

    /// <summary>Goes on by a frame, round the loop where there is one.</summary>
    public void Advance()
    {
        unchecked
        {
            Position += Increment;
            if (IsLooping && (int)(Position >> 32) >= LoopEnd)
                WrapAround();
        }
    }

    /// <summary>Brings a position at or past the loop's end back into it.</summary>
    public void WrapAround()
    {
        unchecked
        {
            var start = (ulong)LoopStart << 32;
            var length = (ulong)(LoopEnd - LoopStart) << 32;
            // A remainder, not a subtraction: high up the keyboard one step can be longer than the loop.
            Position = start + ((Position - start) % length);
            IsInsideKnown &= HasLooped;
            HasLooped = true;
        }
    }
}
