using System.Text;
using System.Text.Json.Nodes;

namespace GrooveLab.SameMusic.Outputs;

/// <summary>Differences planted in real outputs, to show in each run that they are detected: a comparison that cannot fail proves
/// nothing.</summary>
internal static class PlantedDifferences
{
    /// <summary>Plants each kind and reports whether it was found.</summary>
    /// <param name="build">Makes the outputs.</param>
    /// <param name="chart">The chart.</param>
    public static List<(string What, bool Found)> Try(Build build, string chart)
    {
        var (wave, midi) = (build.PathOf("planted.wav"), build.PathOf("planted.mid"));
        build.Run("render", chart, "-o", wave, "--force", "--bars", "4");
        build.Run("export", chart, "-o", midi, "--force");
        var json = build.Run("show", chart, "--json").Output;
        var (samples, notes) = (File.ReadAllBytes(wave), File.ReadAllBytes(midi));
        File.Delete(wave);
        File.Delete(midi);
        return
        [
            ("the lowest bit of one sample of a render", WaveComparison.Of(samples, Turned(samples), _ => string.Empty) is not null),
            ("the last frame of a render cut off", WaveComparison.Of(samples, samples[..^4], _ => string.Empty) is not null),
            ("one bit of a MIDI file", MidiComparison.Of(notes, Turned(notes)) is not null),
            ("one velocity in the JSON", Finds(json, "bars[].events[].velocity", bars => Event(bars)["velocity"] = Event(bars)["velocity"]!.GetValue<int>() + 1)),
            ("one onset in the JSON", Finds(json, "bars[].events[].onset", bars => Event(bars)["onset"] = "7/13")),
            ("one meter in the JSON", Finds(json, "bars[].meter", bars => bars[^1]!["meter"] = "1/64")),
            ("one member missing in the JSON", Finds(json, "bars[].events[].length", bars => Event(bars).Remove("length"))),
            ("one event missing in the JSON", Finds(json, "bars[].events", bars => bars[^1]!["events"]!.AsArray().RemoveAt(0))),
            ("one bar missing in the JSON", Finds(json, "bars", bars => bars.RemoveAt(bars.Count - 1))),
            ("an added member in the JSON, which is allowed", Adds(json)),
        ];
    }

    private static byte[] Turned(byte[] file)
    {
        byte[] turned = [.. file];
        turned[file.Length / 2 / 2 * 2] ^= 1;
        return turned;
    }

    private static JsonObject Event(JsonArray bars) => bars[^1]!["events"]![0]!.AsObject();

    private static JsonComparison Changed(byte[] json, Action<JsonArray> change)
    {
        var document = JsonNode.Parse(json)!;
        change(document["bars"]!.AsArray());
        return JsonComparison.Of(json, Encoding.UTF8.GetBytes(document.ToJsonString()));
    }

    private static bool Finds(byte[] json, string path, Action<JsonArray> change) =>
        Changed(json, change).Differences is [var only] && only.Path == path;

    private static bool Adds(byte[] json)
    {
        var comparison = Changed(json, bars => Event(bars)["added"] = true);
        return comparison.Differences.Count == 0 && comparison.Added.SetEquals(["bars[].events[].added"]);
    }
}
