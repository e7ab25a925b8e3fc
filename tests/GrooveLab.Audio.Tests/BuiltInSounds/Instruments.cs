using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>The intended built-in instruments, listed a second time so that the tests notice a mistake in the recipes.</summary>
internal static class Instruments
{
    /// <summary>Velocities in the middle of the three layers.</summary>
    public static readonly int[] LayerVelocities = [30, 68, 105];

    /// <summary>Name, program (from 0), range, and whether the sound is plucked or struck.</summary>
    public static readonly (string Name, int Program, int Low, int High, bool Plucked)[] All =
    [
        ("Hammered dulcimer", 15, 48, 88, true),
        ("Reed pair", 21, 48, 96, false),
        ("Gut-strung pluck", 24, 40, 88, true),
        ("Plucked course", 25, 40, 88, true),
        ("Damped stroke", 28, 40, 88, true),
        ("Plucked bass", 32, 28, 60, true),
        ("Plucked bass bright", 33, 28, 60, true),
        ("Bowed high", 40, 55, 93, false),
        ("Bowed low", 42, 36, 76, false),
        ("Whistle", 73, 60, 98, false),
        ("Short-necked skin", 105, 48, 88, true),
    ];

    public static TheoryData<int> Programs => [.. All.Select(i => i.Program)];

    public static TheoryData<int> PluckedPrograms => [.. All.Where(i => i.Plucked).Select(i => i.Program)];

    public static (string Name, int Program, int Low, int High, bool Plucked) Of(int program) => All.Single(i => i.Program == program);
}
