using System.Text.Json;
using GrooveLab.Music.Time;

namespace GrooveLab.Tests;

/// <summary>An event as <c>show --json</c> prints it.</summary>
internal sealed record ShownEvent(string Part, string Role, Rational Onset, Rational Length, double Offset, int? Pitch, int Velocity, bool Damped);

/// <summary>A bar as <c>show --json</c> prints it.</summary>
internal sealed record ShownBar(
    int Index, string Section, Rational Length, int Units, IReadOnlyList<int> Grouping, string Feel, double Start, double Seconds,
    IReadOnlyList<string> Chords, bool FirstOfGroup, bool Stops, bool Ending, IReadOnlyList<ShownEvent> Events)
{
    /// <summary>What each part is asked to do, by the part's name.</summary>
    public required IReadOnlyDictionary<string, string> Tasks { get; init; }

    public Rational Unit => Length / Units;

    public IEnumerable<ShownEvent> Of(string role) => Events.Where(note => note.Role == role);

    /// <summary>The places on which groups start, from the bar line.</summary>
    public IReadOnlyList<Rational> GroupStarts
    {
        get
        {
            var starts = new List<Rational> { Rational.Zero };
            foreach (var size in Grouping.SkipLast(1))
            {
                starts.Add(starts[^1] + (Unit * size));
            }

            return starts;
        }
    }
}

/// <summary>Reads the document that <c>show --json</c> prints, without the program's own code.</summary>
internal static class ShownBars
{
    public static IReadOnlyList<ShownBar> Read(string json)
    {
        using var document = JsonDocument.Parse(json);
        return [.. document.RootElement.GetProperty("bars").EnumerateArray().Select(Bar)];
    }

    public static double LeadInSeconds(string json)
    {
        using var document = JsonDocument.Parse(json);
        return document.RootElement.GetProperty("leadIn").GetProperty("length").GetDouble();
    }

    public static IReadOnlyList<ShownEvent> Events(JsonElement bar) => [.. bar.GetProperty("events").EnumerateArray().Select(Event)];

    private static ShownBar Bar(JsonElement bar)
    {
        var meter = bar.GetProperty("meter").GetString()!.Split('/');
        return new ShownBar(
            bar.GetProperty("index").GetInt32(),
            bar.GetProperty("section").GetString()!,
            new Rational(long.Parse(meter[0]), long.Parse(meter[1])),
            int.Parse(meter[0]),
            [.. bar.GetProperty("grouping").EnumerateArray().Select(size => size.GetInt32())],
            bar.GetProperty("feel").GetString()!,
            bar.GetProperty("start").GetDouble(),
            bar.GetProperty("length").GetDouble(),
            [.. bar.GetProperty("chords").EnumerateArray().Select(chord => chord.GetString()!)],
            bar.GetProperty("barGroup").GetProperty("bar").GetInt32() == 0,
            bar.TryGetProperty("stop", out _), bar.GetProperty("ending").GetBoolean(),
            Events(bar))
        {
            Tasks = bar.GetProperty("tasks").EnumerateObject().ToDictionary(task => task.Name, task => task.Value.GetString()!),
        };
    }

    private static ShownEvent Event(JsonElement note)
    {
        var pitch = note.GetProperty("pitch");
        return new ShownEvent(
            note.GetProperty("part").GetString()!,
            note.GetProperty("role").GetString()!,
            Fraction(note.GetProperty("onset").GetString()!),
            Fraction(note.GetProperty("length").GetString()!),
            note.GetProperty("offset").GetDouble(),
            pitch.ValueKind == JsonValueKind.Null ? null : pitch.GetInt32(),
            note.GetProperty("velocity").GetInt32(),
            note.TryGetProperty("damped", out var damped) && damped.GetBoolean());
    }

    private static Rational Fraction(string text) =>
        Rational.TryParse(text, out var value) ? value : throw new FormatException($"'{text}' is not a fraction");
}
