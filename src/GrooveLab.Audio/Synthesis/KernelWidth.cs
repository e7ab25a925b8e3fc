namespace GrooveLab.Audio.Synthesis;

/// <summary>Which kernel renders the voices. The processor decides; tests select the others.</summary>
internal enum KernelWidth
{
    /// <summary>The fastest: eight lanes if the processor supports them, otherwise four.</summary>
    Best,

    /// <summary>One voice and one frame at a time: the readable reference.</summary>
    Scalar,

    /// <summary>Four lanes.</summary>
    Vector128,

    /// <summary>Eight lanes.</summary>
    Vector256,

    /// <summary>Sixteen lanes.</summary>
    Vector512,
}
