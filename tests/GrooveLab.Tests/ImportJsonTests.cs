using System.Text.Json;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The report of <c>import --json</c>.</summary>
public sealed class ImportJsonTests
{
    // A section with meters in turn, one in a single meter, and endings.
    private const string Song = """
        X:1
        T:Rope Walk
        M:5/8
        L:1/8
        K:Ddor
        P:A
        "Dm"D3 F2|[M:7/8]"C"G4 E3|[M:5/8]"Dm"D3 F2|[M:7/8]"C"G4 E3|
        P:B
        [M:3/4]|:"F"F2 A2 c2|"G"B2 d2 G2|1 "C"c6:|2 [M:4/4]"Dm"d8|]

        """;

    [Fact]
    public void Import_Json_HasTheMeterMap()
    {
        using var running = new Running();
        running.Write("rope.abc", Song);
        var ran = running.Run("import", "rope.abc", "--json");
        Assert.Equal(0, ran.ExitCode);
        using var json = JsonDocument.Parse(ran.Out);
        var meters = json.RootElement.GetProperty("meters").EnumerateArray().Select(one =>
            $"{one.GetProperty("section").GetString()}{(one.TryGetProperty("ending", out var ending) ? $" ending {ending.GetInt32()}" : string.Empty)} bar {one.GetProperty("bar").GetInt32()}: {one.GetProperty("meter").GetString()}");
        Assert.Equal(
            [
                "A bar 1: 5/8 3+2", "A bar 2: 7/8 2+2+3", "A bar 3: 5/8 3+2", "A bar 4: 7/8 2+2+3",
                "B bar 1: 3/4 none", "B ending 1 bar 3: 3/4 none", "B ending 2 bar 3: 4/4 2+2",
            ],
            meters);
    }
}
