using System.Runtime.CompilerServices;

namespace GrooveLab.Audio;

/// <summary>How the methods of the audio thread are compiled.</summary>
internal static class HotCode
{
    /// <summary>
    /// Compiles a method fully at its first call. In a program that is published precompiled it has no effect, because the runtime would ignore the
    /// precompiled method and compile it again at start.
    /// </summary>
#if PRECOMPILED
    public const MethodImplOptions Compiled = default;
#else
    public const MethodImplOptions Compiled = MethodImplOptions.AggressiveOptimization;
#endif
}
