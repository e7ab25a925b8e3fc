using System.Reflection;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>
/// The table of generators and default modulators in <c>docs/synthesizer.md</c> comes from the tests that measure them; none may be missing.
/// <c>GROOVELAB_UPDATE_DOCS=1</c> in the environment rewrites it.
/// </summary>
public class MeasurementTableTests
{
    private const string Start = "<!-- measured: start -->";
    private const string End = "<!-- measured: end -->";

    // The paragraphs of section 8.4.
    private static readonly string[] Modulators =
    [
        "velocity to attenuation", "velocity to cutoff", "channel pressure to vibrato", "modulation wheel to vibrato", "volume to attenuation",
        "pan", "expression to attenuation", "reverb send", "chorus send", "pitch wheel by its range to pitch",
    ];

    // Not sound generators: links, and numbers that the specification leaves unused or reserves.
    private static readonly GeneratorEnum[] Left =
    [
        GeneratorEnum.Instrument, GeneratorEnum.SampleID, GeneratorEnum.Unused1, GeneratorEnum.Unused2, GeneratorEnum.Unused3,
        GeneratorEnum.Unused4, GeneratorEnum.Unused5, GeneratorEnum.Reserved1, GeneratorEnum.Reserved2, GeneratorEnum.Reserved3,
        GeneratorEnum.UnusedEnd,
    ];

    [Fact]
    public void Documentation_GeneratorsAndModulators_NamesTheTestOfEach()
    {
        var tests = typeof(MeasurementTableTests).Assembly.GetTypes().SelectMany(type => type.GetMethods()).ToArray();
        var rows = new List<string> { "| number | generator or modulator | measured by |", "|---|---|---|" };
        var unmeasured = new List<string>();
        void Add(string number, string name, IEnumerable<MethodInfo> measuring)
        {
            var names = measuring.Select(m => $"`{m.DeclaringType!.Name}.{m.Name}`").Order(StringComparer.Ordinal).ToArray();
            if (names.Length == 0)
                unmeasured.Add(name);
            rows.Add($"| {number} | {name} | {string.Join("<br>", names)} |");
        }

        foreach (var generator in Enum.GetValues<GeneratorEnum>().Except(Left).Order())
        {
            Add($"{(int)generator}", $"{generator}", tests.Where(
                m => m.GetCustomAttribute<MeasuresAttribute>()?.Generators.Contains(generator) == true));
        }
        for (var i = 0; i < Modulators.Length; i++)
        {
            Add($"8.4.{i + 1}", Modulators[i], tests.Where(
                m => m.GetCustomAttribute<MeasuresModulatorAttribute>()?.Paragraphs.Contains(i + 1) == true));
        }

        Assert.Empty(unmeasured);
        var path = Document();
        var text = File.ReadAllText(path);
        var expected = $"{Start}\n{string.Join('\n', rows)}\n{End}";
        var (from, to) = (text.IndexOf(Start, StringComparison.Ordinal), text.IndexOf(End, StringComparison.Ordinal) + End.Length);
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_DOCS") == "1")
            File.WriteAllText(path, text[..from] + expected + text[to..]);
        else
            Assert.Equal(expected, text[from..to]);
    }

    internal static string Document()
    {
        for (var folder = new DirectoryInfo(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            var path = Path.Combine(folder.FullName, "docs", "synthesizer.md");
            if (File.Exists(path))
                return path;
        }
        throw new FileNotFoundException("docs/synthesizer.md");
    }
}
