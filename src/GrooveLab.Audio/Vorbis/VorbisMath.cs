using System.Numerics;

namespace GrooveLab.Audio.Vorbis;

/// <summary>The helper functions of Vorbis I, section 9.2.</summary>
internal static class VorbisMath
{
    /// <summary>The number of bits that a number needs: 0 for 0, 1 for 1, 2 for 2 and 3 (<c>ilog</c>).</summary>
    public static int Bits(int number) => number <= 0 ? 0 : BitOperations.Log2((uint)number) + 1;

    /// <summary>A number of 21 bits, a sign and ten bits of exponent (<c>float32_unpack</c>).</summary>
    public static float Unpack(uint packed)
    {
        var mantissa = (double)(packed & 0x1fffff);
        var exponent = (int)((packed >> 21) & 0x3ff);
        return (float)Math.ScaleB((packed & 0x80000000) != 0 ? -mantissa : mantissa, exponent - 788);
    }
}
