using System.Numerics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// Weights for interpolation between four neighbouring sample points by a cubic that goes through the middle two and has their
/// central differences as slopes (Catmull and Rom 1974), for 1,024 places between them.
/// </summary>
internal static class CubicTable
{
    /// <summary>Places between two points.</summary>
    public const int Phases = 1024;

    private const int FractionShift = 32 - 10;
    private const uint Half = 1u << (FractionShift - 1);

    // A sample point of 16 bits becomes a number between -1 and 1 on the way.
    private const double Scale = 1.0 / 32768;

    private static readonly Vector4[] Rows = MakeRows();

    /// <summary>The weights for a fraction of 32 bits, rounded to the nearest place.</summary>
    public static ref readonly Vector4 Row(uint fraction) => ref Rows[(int)(((ulong)fraction + Half) >> FractionShift)];

    private static Vector4[] MakeRows()
    {
        // One more than there are phases: the last fractions round up to the next point.
        var rows = new Vector4[Phases + 1];
        for (var i = 0; i < rows.Length; i++)
        {
            var x = (double)i / Phases;
            var before = x * (-0.5 + (x * (1 - (0.5 * x))));
            var here = 1 + (x * x * (-2.5 + (1.5 * x)));
            var next = x * (0.5 + (x * (2 - (1.5 * x))));
            var after = x * x * (-0.5 + (0.5 * x));
            rows[i] = new Vector4((float)(before * Scale), (float)(here * Scale), (float)(next * Scale), (float)(after * Scale));
        }
        return rows;
    }
}
