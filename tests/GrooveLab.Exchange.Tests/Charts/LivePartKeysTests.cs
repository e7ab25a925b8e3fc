using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Band;
using GrooveLab.Music.Performance;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Everything that a chart says about a part can be changed live, and the change is saved under the same key.</summary>
public sealed class LivePartKeysTests
{
    private static readonly PerformancePlace Start = new(0, 0, 1);

    // A live change for each key of a part, of the part called "mine".
    private static readonly Dictionary<string, string> Words = new(StringComparer.Ordinal)
    {
        ["name"] = "rename mine to yours",
        ["role"] = "role mine ROLE",
        ["instrument"] = "instrument mine INSTRUMENT",
        ["register"] = "register mine C3-C4",
        ["level"] = "level mine -7.5",
        ["pan"] = "pan mine 33",
        ["silent"] = "without mine",
        ["strokes"] = "strokes mine heavy",
        ["damped"] = "damped mine off",
        ["voices"] = "voices mine 1",
        ["share"] = "share mine between",
        ["strum-ms"] = "strum-ms mine 3",
        ["crossing"] = "crossing mine land",
        ["hand-limit-ms"] = "hand-limit-ms mine 140",
        ["approaches"] = "approaches mine 0.1",
        ["ring"] = "ring mine 0.4",
        ["laid-back"] = "laid-back mine unit",
        ["octaves"] = "octaves mine 1",
        ["consonants"] = "consonants mine on",
        ["phrasing"] = "phrasing mine off",
        ["on"] = "count bars",
    };

    public static TheoryData<string, string> Keys()
    {
        var data = new TheoryData<string, string>();
        foreach (var role in Enum.GetValues<Role>())
        {
            // The count has one instrument and no register, and keeps its role.
            foreach (var key in ChartKeys.Part.Concat(ChartKeys.SettingsOf(role)).Where(key => role != Role.Count || key is not ("role" or "instrument" or "register")))
            {
                data.Add(role.Name(), key);
            }
        }

        return data;
    }

    [Theory]
    [MemberData(nameof(Keys))]
    public void Change_EveryKeyOfAPart_IsMadeLiveAndSavedUnderThatKey(string role, string key)
    {
        Assert.True(Words.TryGetValue(key, out var words), $"the key {key} has no live change");
        var instrument = role switch { "count" => "clicks", "bass" => "cello", _ => "guitar" };
        var text = $"format = 2\nkey = \"C\"\ntempo = \"eighth = 240\"\nmeter = \"5/8 3+2\"\n\n[[part]]\nname = \"mine\"\nrole = \"{role}\"\n"
            + $"instrument = \"{instrument}\"\nlevel = -5\npan = 5\n\n[[section]]\nchords = \"| C | G |\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var state = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var history = new PerformanceHistory(state);

        words = words.Replace("ROLE", role == "pulse" ? "roll" : "pulse", StringComparison.Ordinal).Replace("INSTRUMENT", "viola", StringComparison.Ordinal);
        history.Do(words, Start);

        var saved = ChartDifference.Write(document, state.Chart, history.State.Chart).Document;
        var lines = saved.Text.Split('\n').Except(text.Split('\n')).ToList();
        Assert.Equal([key], lines.Select(line => line.Split(' ')[0]));
        Assert.True(SameChart.Parts(history.State.Chart.Parts[0], saved.Read().Chart!.Parts[0]));
        history.Do("undo", Start);
        Assert.True(SameChart.Parts(state.Chart.Parts[0], history.State.Chart.Parts[0]));
    }

    [Theory]
    [InlineData("register mine usual", "register")]
    [InlineData("hand-limit-ms mine usual", "hand-limit-ms")]
    [InlineData("without mine off", "silent")]
    public void Change_BackToTheUsual_RemovesTheKeyOrWritesTheUsualValue(string words, string key)
    {
        const string text = "format = 2\nkey = \"C\"\ntempo = \"eighth = 240\"\nmeter = \"5/8 3+2\"\n\n[[part]]\nname = \"mine\"\nrole = \"roll\"\n"
            + "register = \"G3-G4\"\nsilent = true\nhand-limit-ms = 120\n\n[[section]]\nchords = \"| C | G |\"\n";
        var document = ChartDocument.FromText(text, "song.toml");
        var state = PerformanceState.Opening(document.Read().Chart!, InstrumentFile.BuiltIn);
        var history = new PerformanceHistory(state);

        history.Do(words, Start);

        var saved = ChartDifference.Write(document, state.Chart, history.State.Chart).Document;
        var usual = HouseBand.Part(Role.Roll, state.Chart.Parts[0].Instrument, InstrumentFile.BuiltIn);
        var part = saved.Read().Chart!.Parts[0];
        Assert.DoesNotContain(text.Split('\n').Single(line => line.StartsWith(key, StringComparison.Ordinal)), saved.Text.Split('\n'));
        Assert.True(key switch
        {
            "register" => (part.Lowest, part.Highest) == (usual.Lowest, usual.Highest),
            "silent" => !part.Silent,
            _ => ((RollSettings)part.Settings).HandLimitMs is null,
        });
    }

    [Fact]
    public void Opening_ASilentPart_IsMutedAndCanBeHeardAgain()
    {
        const string text = "format = 2\nkey = \"C\"\ntempo = \"eighth = 240\"\nmeter = \"5/8 3+2\"\n\n[[part]]\nname = \"mine\"\nrole = \"bass\"\nsilent = true\n\n"
            + "[[part]]\nrole = \"pulse\"\n\n[[section]]\nchords = \"| C | G |\"\n";
        var history = new PerformanceHistory(PerformanceState.Opening(ChartReader.ReadText(text, "song.toml").Chart!, InstrumentFile.BuiltIn));
        Assert.True(history.State.IsSilent(history.State.Chart.Parts[0]));

        history.Do("mute mine", Start);

        Assert.False(history.State.IsSilent(history.State.Chart.Parts[0]));
        Assert.True(history.State.Chart.Parts[0].Silent);
        var format1 = ChartReader.ReadText(text.Replace("format = 2", "format = 1", StringComparison.Ordinal), "song.toml");
        Assert.Contains("format 2", Assert.Single(format1.Problems).What, StringComparison.Ordinal);
    }
}
