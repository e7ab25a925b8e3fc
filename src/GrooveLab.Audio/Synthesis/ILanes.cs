using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Runtime.Intrinsics.Arm;
using System.Runtime.Intrinsics.X86;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// A vector of lanes and its arithmetic, so that one kernel serves every width. The compiler inlines all of it. Each width is a type of its own,
/// not the framework's vector, because publishing precompiles generic code only for types of the program.
/// </summary>
internal unsafe interface ILanes<T>
    where T : struct
{
    /// <summary>The number of lanes in a vector.</summary>
    static abstract int Width { get; }

    static abstract T Load(float* from);

    static abstract void Store(T value, float* to);

    static abstract T Add(T a, T b);

    static abstract T Subtract(T a, T b);

    static abstract T Multiply(T a, T b);

    /// <summary>a times b plus c, rounded once if the processor can.</summary>
    static abstract T MultiplyAdd(T a, T b, T c);

    /// <summary>Twice a, minus b. Doubling is exact, so it rounds once on every processor.</summary>
    static abstract T TwiceMinus(T a, T b);

    /// <summary>For each lane, a if all bits of the mask are set, b if none is.</summary>
    static abstract T Select(T mask, T a, T b);

    /// <summary>The sum of all lanes, always added in the same order.</summary>
    static abstract float Sum(T v);
}

/// <summary>Four lanes.</summary>
internal readonly unsafe struct Lanes128(Vector128<float> values) : ILanes<Lanes128>
{
    private readonly Vector128<float> _values = values;

    public static int Width => 4;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 Load(float* from) => new(Vector128.Load(from));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Lanes128 value, float* to) => value._values.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 Add(Lanes128 a, Lanes128 b) => new(a._values + b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 Subtract(Lanes128 a, Lanes128 b) => new(a._values - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 Multiply(Lanes128 a, Lanes128 b) => new(a._values * b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 MultiplyAdd(Lanes128 a, Lanes128 b, Lanes128 c) => new(MultiplyAdd(a._values, b._values, c._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 TwiceMinus(Lanes128 a, Lanes128 b) => new(
        Fma.IsSupported ? Fma.MultiplySubtract(a._values, Vector128.Create(2f), b._values) : (a._values + a._values) - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes128 Select(Lanes128 mask, Lanes128 a, Lanes128 b) => new(
        Sse41.IsSupported ? Sse41.BlendVariable(b._values, a._values, mask._values) : Vector128.ConditionalSelect(mask._values, a._values, b._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Lanes128 v) => Sum(v._values);

    /// <inheritdoc cref="ILanes{T}.MultiplyAdd"/>
    // Without the instruction, software emulates the fused product, many times slower than the two steps.
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<float> MultiplyAdd(Vector128<float> a, Vector128<float> b, Vector128<float> c) =>
        Fma.IsSupported ? Fma.MultiplyAdd(a, b, c) : AdvSimd.IsSupported ? AdvSimd.FusedMultiplyAdd(c, a, b) : (a * b) + c;

    /// <inheritdoc cref="ILanes{T}.Sum"/>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector128<float> v) => (v.GetElement(0) + v.GetElement(1)) + (v.GetElement(2) + v.GetElement(3));
}

/// <summary>Eight lanes.</summary>
internal readonly unsafe struct Lanes256(Vector256<float> values) : ILanes<Lanes256>
{
    private readonly Vector256<float> _values = values;

    public static int Width => 8;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 Load(float* from) => new(Vector256.Load(from));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Lanes256 value, float* to) => value._values.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 Add(Lanes256 a, Lanes256 b) => new(a._values + b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 Subtract(Lanes256 a, Lanes256 b) => new(a._values - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 Multiply(Lanes256 a, Lanes256 b) => new(a._values * b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 MultiplyAdd(Lanes256 a, Lanes256 b, Lanes256 c) => new(MultiplyAdd(a._values, b._values, c._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 TwiceMinus(Lanes256 a, Lanes256 b) => new(
        Fma.IsSupported ? Fma.MultiplySubtract(a._values, Vector256.Create(2f), b._values) : (a._values + a._values) - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes256 Select(Lanes256 mask, Lanes256 a, Lanes256 b) => new(
        Avx.IsSupported ? Avx.BlendVariable(b._values, a._values, mask._values) : Vector256.ConditionalSelect(mask._values, a._values, b._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Lanes256 v) => Sum(v._values);

    /// <inheritdoc cref="ILanes{T}.MultiplyAdd"/>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector256<float> MultiplyAdd(Vector256<float> a, Vector256<float> b, Vector256<float> c) =>
        Fma.IsSupported ? Fma.MultiplyAdd(a, b, c) : (a * b) + c;

    /// <inheritdoc cref="ILanes{T}.Sum"/>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector256<float> v) => Lanes128.Sum(v.GetLower() + v.GetUpper());
}

/// <summary>Sixteen lanes.</summary>
internal readonly unsafe struct Lanes512(Vector512<float> values) : ILanes<Lanes512>
{
    private readonly Vector512<float> _values = values;

    public static int Width => 16;

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 Load(float* from) => new(Vector512.Load(from));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static void Store(Lanes512 value, float* to) => value._values.Store(to);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 Add(Lanes512 a, Lanes512 b) => new(a._values + b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 Subtract(Lanes512 a, Lanes512 b) => new(a._values - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 Multiply(Lanes512 a, Lanes512 b) => new(a._values * b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 MultiplyAdd(Lanes512 a, Lanes512 b, Lanes512 c) => new(MultiplyAdd(a._values, b._values, c._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 TwiceMinus(Lanes512 a, Lanes512 b) => new(
        Avx512F.IsSupported ? Avx512F.FusedMultiplySubtract(a._values, Vector512.Create(2f), b._values) : (a._values + a._values) - b._values);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Lanes512 Select(Lanes512 mask, Lanes512 a, Lanes512 b) => new(
        Vector512.ConditionalSelect(mask._values, a._values, b._values));

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Lanes512 v) => Sum(v._values);

    /// <inheritdoc cref="ILanes{T}.MultiplyAdd"/>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector512<float> MultiplyAdd(Vector512<float> a, Vector512<float> b, Vector512<float> c) =>
        Avx512F.IsSupported ? Avx512F.FusedMultiplyAdd(a, b, c) : (a * b) + c;

    /// <inheritdoc cref="ILanes{T}.Sum"/>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static float Sum(Vector512<float> v) => Lanes256.Sum(v.GetLower() + v.GetUpper());
}
