using System.Runtime.CompilerServices;

namespace GrooveLab.Audio.Synthesis;

/// <summary>A voice's amplitude factors for the two sides and the two effects, without its envelope.</summary>
internal readonly record struct StaticGains(float Left, float Right, float Reverb, float Chorus)
{
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public StaticGains Times(float factor) => new(Left * factor, Right * factor, Reverb * factor, Chorus * factor);

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public StaticGains Towards(in StaticGains other, float part) => new(
        Left + ((other.Left - Left) * part),
        Right + ((other.Right - Right) * part),
        Reverb + ((other.Reverb - Reverb) * part),
        Chorus + ((other.Chorus - Chorus) * part));
}
