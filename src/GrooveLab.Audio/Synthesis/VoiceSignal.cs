namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// What the inner loop of a voice reads and writes: where it is in its sample, its filter, its gains and how they move. Plain data,
/// planned by <see cref="Voice"/> for one piece of time and carried from frame to frame by a kernel.
/// </summary>
internal struct VoiceSignal
{
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

    /// <summary>Whether the sample is over; set by the kernel, which gives silence from there on.</summary>
    public bool HasEnded;

    public bool IsFiltered;
    public float Filter1;
    public float Filter2;
    public float A1;
    public float A2;
    public float A3;
    public float A1Step;
    public float A2Step;
    public float A3Step;

    public float Left;
    public float Right;
    public float Reverb;
    public float Chorus;
    public float LeftStep;
    public float RightStep;
    public float ReverbStep;
    public float ChorusStep;
}
