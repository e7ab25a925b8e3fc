using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The source of a modulator: which controller, and how its value maps to a number from 0 to 1 or from -1 to 1
/// (SoundFont 2.04, section 8.2).
/// </summary>
internal readonly record struct ModulatorSource(ushort Raw)
{
    /// <summary>General controller: always 1.</summary>
    public const int NoController = 0;

    /// <summary>General controller: velocity of the note-on.</summary>
    public const int Velocity = 2;

    /// <summary>General controller: key of the note-on.</summary>
    public const int Key = 3;

    /// <summary>General controller: pressure on the note's own key.</summary>
    public const int PolyPressure = 10;

    /// <summary>General controller: channel pressure.</summary>
    public const int ChannelPressure = 13;

    /// <summary>General controller: pitch wheel, 14 bits.</summary>
    public const int PitchWheel = 14;

    /// <summary>General controller: range of the pitch wheel, set by registered parameter 0.</summary>
    public const int PitchWheelSensitivity = 16;

    /// <summary>Controller number, or the number of a general controller.</summary>
    public int Index => Raw & 0x7f;

    /// <summary>Whether <see cref="Index"/> is a MIDI controller's number.</summary>
    public bool IsMidiController => (Raw & 0x80) != 0;

    /// <summary>Whether the mapping is reversed: the greatest value gives the minimum.</summary>
    public bool IsNegative => (Raw & 0x100) != 0;

    /// <summary>Whether the result lies between -1 and 1 instead of 0 and 1.</summary>
    public bool IsBipolar => (Raw & 0x200) != 0;

    /// <summary>The curve; meaningful only when <see cref="IsValid"/> is true.</summary>
    public ModulatorCurve Curve => (ModulatorCurve)(Raw >> 10);

    /// <summary>
    /// Whether section 8.2 defines the source. It does not define bank select, data entry, the parameter numbers and the channel-mode
    /// messages (8.2.1). Links between modulators are also invalid here: this synthesizer does not support them.
    /// </summary>
    public bool IsValid => Raw >> 10 <= (int)ModulatorCurve.Switch && (IsMidiController
        ? Index is not (0 or 6 or 32 or 38 or (>= 98 and <= 101) or >= 120)
        : Index is NoController or Velocity or Key or PolyPressure or ChannelPressure or PitchWheel or PitchWheelSensitivity);

    /// <summary>Maps a controller's value.</summary>
    /// <param name="value">0-127; for the pitch wheel 0-16383, for its range semitones.</param>
    [MethodImpl(HotCode.Compiled)]
    public float Map(float value)
    {
        if (!IsMidiController)
        {
            switch (Index)
            {
                case NoController:
                    return 1;
                case PitchWheel:
                    return Map(value, 16384, 16383);
                case PitchWheelSensitivity when Curve == ModulatorCurve.Linear && !IsBipolar && !IsNegative:
                    // The default modulator's 12,700 cents are 127 semitones, so one semitone must be exactly 1/127.
                    return value / 127;
                default:
                    break;
            }
        }
        return Map(value, 128, 127);
    }

    /// <param name="value">The controller's value.</param>
    /// <param name="steps">The number of values; the linear mapping divides by it, so that the middle is exact.</param>
    /// <param name="greatest">The greatest value, where the curved mappings reach their ends.</param>
    [MethodImpl(HotCode.Compiled)]
    private float Map(float value, float steps, float greatest)
    {
        if (IsBipolar)
        {
            var x = ((2 * value) / steps) - 1;
            if (IsNegative)
                x = -x;
            return Curve switch
            {
                ModulatorCurve.Linear => x,
                ModulatorCurve.Switch => x >= 0 ? 1 : -1,
                ModulatorCurve.Concave => MathF.CopySign(Concave(MathF.Abs(x)), x),
                _ => MathF.CopySign(Convex(MathF.Abs(x)), x),
            };
        }
        var linear = IsNegative ? 1 - (value / steps) : value / steps;
        var curved = IsNegative ? 1 - (value / greatest) : value / greatest;
        return Curve switch
        {
            ModulatorCurve.Linear => linear,
            ModulatorCurve.Switch => linear >= 0.5f ? 1 : 0,
            ModulatorCurve.Concave => Concave(curved),
            _ => Convex(curved),
        };
    }

    /// <summary>The concave curve from 0 to 1: 96 dB of attenuation, distributed as the square of the amplitude.</summary>
    public static float Concave(float x) => x >= 1 ? 1 : Math.Clamp(-(40f / 96f) * MathF.Log10(1 - x), 0, 1);

    /// <summary>The convex curve from 0 to 1.</summary>
    public static float Convex(float x) => 1 - Concave(1 - x);
}
