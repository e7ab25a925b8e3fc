using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The cubic through the middle two of four points, with the central differences as slopes (Catmull and Rom 1974), at any place between
/// the two.
/// </summary>
/// <remarks>
/// For one, four or eight frames the steps and their order are the same, so the bits are too. The coefficients are exact for points of up
/// to 22 bits; scaling all points by a power of two only scales the result.
/// </remarks>
internal static class Cubic
{
    /// <summary>The value at a place; <paramref name="x"/> runs from 0 at <paramref name="p1"/> to 1 at <paramref name="p2"/>.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float At(float p0, float p1, float p2, float p3, float x)
    {
        var rise = p2 - p1;
        var slope = (p2 - p0) * 0.5f;
        var third = ((p3 - p0) * 0.5f) - (rise * 1.5f);
        var second = (rise - slope) - third;
        return MultiplyAdd(MultiplyAdd(MultiplyAdd(third, x, second), x, slope), x, p1);
    }

    /// <summary>Four frames.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> At(Vector128<float> p0, Vector128<float> p1, Vector128<float> p2, Vector128<float> p3, Vector128<float> x)
    {
        var rise = p2 - p1;
        var slope = (p2 - p0) * 0.5f;
        var third = ((p3 - p0) * 0.5f) - (rise * 1.5f);
        var second = (rise - slope) - third;
        return Lanes128.MultiplyAdd(Lanes128.MultiplyAdd(Lanes128.MultiplyAdd(third, x, second), x, slope), x, p1);
    }

    /// <summary>Eight frames.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> At(Vector256<float> p0, Vector256<float> p1, Vector256<float> p2, Vector256<float> p3, Vector256<float> x)
    {
        var rise = p2 - p1;
        var slope = (p2 - p0) * 0.5f;
        var third = ((p3 - p0) * 0.5f) - (rise * 1.5f);
        var second = (rise - slope) - third;
        return Lanes256.MultiplyAdd(Lanes256.MultiplyAdd(Lanes256.MultiplyAdd(third, x, second), x, slope), x, p1);
    }

    // Rounds once exactly where the vector code rounds once.
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float MultiplyAdd(float a, float b, float c) =>
        Fma.IsSupported || AdvSimd.IsSupported ? MathF.FusedMultiplyAdd(a, b, c) : (a * b) + c;
}
