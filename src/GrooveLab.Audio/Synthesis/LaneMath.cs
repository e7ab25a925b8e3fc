using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Arithmetic on a vector of lanes, so that one kernel serves every width. The compiler inlines all of it.</summary>
internal unsafe interface ILaneMath<TVector>
    where TVector : struct
{
    /// <summary>The number of lanes in a vector.</summary>
    static abstract int Width { get; }

    static abstract TVector Load(float* from);

    static abstract void Store(TVector value, float* to);

    static abstract TVector Add(TVector a, TVector b);

    static abstract TVector Subtract(TVector a, TVector b);

    static abstract TVector Multiply(TVector a, TVector b);

    /// <summary>a times b plus c, rounded once if the processor can.</summary>
    static abstract TVector MultiplyAdd(TVector a, TVector b, TVector c);

    /// <summary>Twice a, minus b; doubling is exact, so it always rounds once.</summary>
    static abstract TVector TwiceMinus(TVector a, TVector b);

    /// <summary>For each lane, a if all bits of the mask are set, b if none is.</summary>
    static abstract TVector Select(TVector mask, TVector a, TVector b);

    /// <summary>The sum of all lanes, always added in the same order.</summary>
    static abstract float Sum(TVector v);
}

/// <summary>Four lanes.</summary>
internal readonly unsafe struct Lanes128 : ILaneMath<Vector128<float>>
{
    public static int Width => 4;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> Load(float* from) => Vector128.Load(from);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Vector128<float> value, float* to) => value.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> Add(Vector128<float> a, Vector128<float> b) => a + b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> Subtract(Vector128<float> a, Vector128<float> b) => a - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> Multiply(Vector128<float> a, Vector128<float> b) => a * b;

    // Without the instruction, software emulates the fused product, many times slower than the two steps.
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> MultiplyAdd(Vector128<float> a, Vector128<float> b, Vector128<float> c) =>
        Fma.IsSupported ? Fma.MultiplyAdd(a, b, c) : AdvSimd.IsSupported ? AdvSimd.FusedMultiplyAdd(c, a, b) : (a * b) + c;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> TwiceMinus(Vector128<float> a, Vector128<float> b) =>
        Fma.IsSupported ? Fma.MultiplySubtract(a, Vector128.Create(2f), b) : (a + a) - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> Select(Vector128<float> mask, Vector128<float> a, Vector128<float> b) =>
        Sse41.IsSupported && !Vector512.IsHardwareAccelerated ? Sse41.BlendVariable(b, a, mask) : Vector128.ConditionalSelect(mask, a, b);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector128<float> v) => (v.GetElement(0) + v.GetElement(1)) + (v.GetElement(2) + v.GetElement(3));
}

/// <summary>Eight lanes.</summary>
internal readonly unsafe struct Lanes256 : ILaneMath<Vector256<float>>
{
    public static int Width => 8;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> Load(float* from) => Vector256.Load(from);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Vector256<float> value, float* to) => value.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> Add(Vector256<float> a, Vector256<float> b) => a + b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> Subtract(Vector256<float> a, Vector256<float> b) => a - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> Multiply(Vector256<float> a, Vector256<float> b) => a * b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> MultiplyAdd(Vector256<float> a, Vector256<float> b, Vector256<float> c) =>
        Fma.IsSupported ? Fma.MultiplyAdd(a, b, c) : (a * b) + c;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> TwiceMinus(Vector256<float> a, Vector256<float> b) =>
        Fma.IsSupported ? Fma.MultiplySubtract(a, Vector256.Create(2f), b) : (a + a) - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> Select(Vector256<float> mask, Vector256<float> a, Vector256<float> b) =>
        Avx.IsSupported && !Vector512.IsHardwareAccelerated ? Avx.BlendVariable(b, a, mask) : Vector256.ConditionalSelect(mask, a, b);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector256<float> v) => Lanes128.Sum(v.GetLower() + v.GetUpper());
}

/// <summary>Sixteen lanes.</summary>
internal readonly unsafe struct Lanes512 : ILaneMath<Vector512<float>>
{
    public static int Width => 16;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> Load(float* from) => Vector512.Load(from);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Vector512<float> value, float* to) => value.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> Add(Vector512<float> a, Vector512<float> b) => a + b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> Subtract(Vector512<float> a, Vector512<float> b) => a - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> Multiply(Vector512<float> a, Vector512<float> b) => a * b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> MultiplyAdd(Vector512<float> a, Vector512<float> b, Vector512<float> c) =>
        Avx512F.IsSupported ? Avx512F.FusedMultiplyAdd(a, b, c) : (a * b) + c;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> TwiceMinus(Vector512<float> a, Vector512<float> b) =>
        Avx512F.IsSupported ? Avx512F.FusedMultiplySubtract(a, Vector512.Create(2f), b) : (a + a) - b;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> Select(Vector512<float> mask, Vector512<float> a, Vector512<float> b) =>
        Vector512.ConditionalSelect(mask, a, b);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector512<float> v) => Lanes256.Sum(v.GetLower() + v.GetUpper());
}
