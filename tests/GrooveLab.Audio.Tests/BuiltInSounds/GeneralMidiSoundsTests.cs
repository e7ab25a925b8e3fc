using System.Text;
using GrooveLab.Audio.BuiltInSounds;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>
/// The built-in bank has a sound for every General MIDI sound, and <c>docs/midi.md</c> lists them; <c>GROOVELAB_UPDATE_TABLES=1</c> in the
/// environment rewrites its tables.
/// </summary>
public sealed class GeneralMidiSoundsTests
{
    private const string Begin = "<!-- stand-ins: begin -->\n";
    private const string End = "<!-- stand-ins: end -->";

    [Fact]
    public void Programs_All128_AreAnsweredByInstrumentsOfTheBank()
    {
        var own = BuiltInInstruments.Pitched.Select(recipe => recipe.Program).ToHashSet();
        Assert.Equal(Enumerable.Range(0, 128), GeneralMidiSounds.Programs.Select(sound => sound.Number));
        Assert.All(GeneralMidiSounds.Programs, sound => Assert.Contains(sound.StandIn, own));
        Assert.All(GeneralMidiSounds.Programs.Where(sound => own.Contains(sound.Number)), sound => Assert.Equal(sound.Number, sound.StandIn));
        Assert.Equal(128, GeneralMidiSounds.Programs.Select(sound => sound.Name).Distinct(StringComparer.Ordinal).Count());
    }

    // General MIDI level 1, from memory, as wire values.
    [Theory]
    [InlineData(15, "Dulcimer")]
    [InlineData(25, "Acoustic Guitar (steel)")]
    [InlineData(42, "Cello")]
    [InlineData(48, "String Ensemble 1")]
    [InlineData(73, "Flute")]
    [InlineData(105, "Banjo")]
    [InlineData(127, "Gunshot")]
    public void Programs_Name_IsGeneralMidis(int program, string name) => Assert.Equal(name, GeneralMidiSounds.Programs[program].Name);

    [Fact]
    public void Drums_EveryKey_IsAnsweredByTheKit()
    {
        var kit = BuiltInInstruments.Kit.Select(drum => drum.Key).ToHashSet();
        Assert.All(Enumerable.Range(0, 128), key => Assert.Contains(GeneralMidiSounds.StandInForKey(key), kit));
        Assert.All(kit, key => Assert.Equal(key, GeneralMidiSounds.StandInForKey(key)));
        // General MIDI level 1 has drums from 35 to 81.
        Assert.All(Enumerable.Range(35, 47), key => Assert.DoesNotContain("key", GeneralMidiSounds.DrumName(key)));
    }

    [Fact]
    public void Page_Tables_SayWhatAnswers()
    {
        var path = Path.Combine(Checkout(), "docs", "midi.md");
        var page = File.ReadAllText(path);
        var from = page.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length;
        var to = page.IndexOf(End, StringComparison.Ordinal);
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_TABLES") == "1")
        {
            File.WriteAllText(path, page[..from] + Tables() + page[to..]);
            return;
        }

        Assert.Equal(Tables(), page[from..to]);
    }

    private static string Tables()
    {
        var text = new StringBuilder("\n| built-in sound | plays the programs (counted from 0) |\n|---|---|\n");
        foreach (var recipe in BuiltInInstruments.Pitched)
        {
            var sounds = GeneralMidiSounds.Programs.Where(sound => sound.StandIn == recipe.Program).Select(sound => $"{sound.Number} {sound.Name}");
            text.Append($"| {recipe.Program} {recipe.Name} | {string.Join(", ", sounds)} |\n");
        }

        text.Append("\n| kit sound | plays the drums |\n|---|---|\n");
        foreach (var drum in BuiltInInstruments.Kit)
        {
            var sounds = GeneralMidiSounds.Drums.Where(sound => sound.StandIn == drum.Key).Select(sound => $"{sound.Number} {sound.Name}");
            text.Append($"| {drum.Key} {drum.Name} | {string.Join(", ", sounds)} |\n");
        }

        return text.Append('\n').ToString();
    }

    private static string Checkout()
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(Path.Combine(folder, "GrooveLab.sln")))
        {
            folder = Path.GetDirectoryName(folder.TrimEnd(Path.DirectorySeparatorChar))!;
        }

        return folder;
    }
}
