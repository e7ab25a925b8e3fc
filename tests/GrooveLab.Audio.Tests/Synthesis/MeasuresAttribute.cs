using NAudio.SoundFont;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Says which generators' physical effect a test measures; the table in the documentation is made of it.</summary>
[AttributeUsage(AttributeTargets.Method)]
internal sealed class MeasuresAttribute(params GeneratorEnum[] generators) : Attribute
{
    public GeneratorEnum[] Generators { get; } = generators;
}

/// <summary>Says which default modulators of section 8.4 a test measures, by their paragraph, 1-10.</summary>
[AttributeUsage(AttributeTargets.Method)]
internal sealed class MeasuresModulatorAttribute(params int[] paragraphs) : Attribute
{
    public int[] Paragraphs { get; } = paragraphs;
}
