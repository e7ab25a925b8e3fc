namespace GrooveLab.Audio.Synthesis;

/// <summary>Which kernel carries the voices; one is chosen by what the processor has, the others are there for tests.</summary>
internal enum KernelWidth
{
    /// <summary>The widest that the processor does itself.</summary>
    Best,

    /// <summary>One voice after another, one frame after another: the readable truth.</summary>
    Scalar,

    /// <summary>Four lanes.</summary>
    Vector128,

    /// <summary>Eight lanes.</summary>
    Vector256,

    /// <summary>Sixteen lanes.</summary>
    Vector512,
}
