using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Names the generators whose physical effect a test measures, for the table in the documentation.</summary>
[AttributeUsage(AttributeTargets.Method)]
internal sealed class MeasuresAttribute(params GeneratorEnum[] generators) : Attribute
{
    public GeneratorEnum[] Generators { get; } = generators;
}

/// <summary>Names the default modulators of section 8.4 that a test measures, by their paragraph, 1-10.</summary>
[AttributeUsage(AttributeTargets.Method)]
internal sealed class MeasuresModulatorAttribute(params int[] paragraphs) : Attribute
{
    public int[] Paragraphs { get; } = paragraphs;
}
