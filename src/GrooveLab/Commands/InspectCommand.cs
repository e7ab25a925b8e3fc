using System.CommandLine;
using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Ensemble.Checks;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary>
/// <c>inspect</c>: measures what the band plays, in its bars and its sound, and compares it with what players do. docs/inspect.md explains
/// each check.
/// </summary>
internal static class InspectCommand
{
    private static readonly string[] Heads = ["check", "measured", "limit", "", "source"];

    public static Command Create()
    {
        var command = new ProgramCommand(
            "inspect",
            "Measure what the band plays; exit code 1 if a check fails.",
            "groovelab inspect song.toml --bars-only");
        var chart = new Argument<string>("CHART") { Description = "Chart file." };
        var json = new Option<bool>("--json") { Description = "Print the checks as JSON." };
        var barsOnly = new Option<bool>("--bars-only") { Description = "Skip the checks of the sound." };
        Completion.WithCharts(chart);
        command.Arguments.Add(chart);
        command.Options.Add(json);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        command.Options.Add(barsOnly);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var band = options.Compose(ChartFiles.Read(parsed.GetValue(chart)!), parsed, countIn: true);
            var sounds = parsed.GetValue(barsOnly) ? null : bank.Open(parsed);
            if (sounds is not null)
            {
                Banks.Tell(sounds, band.Band);
            }

            var checks = Report.Progress<IReadOnlyList<CheckResult>>("measuring", (_, stop) =>
                [.. BandChecks.Of(band), .. sounds is null ? [] : new SoundChecks(band, sounds, stop).All()]);
            if (parsed.GetValue(json))
            {
                using var output = Console.OpenStandardOutput();
                WriteJson(band, checks, output);
            }
            else
            {
                Print(checks);
            }

            return checks.All(check => check.Holds) ? ExitCodes.Ok : ExitCodes.Failed;
        }));
        return command;
    }

    private static void Print(IReadOnlyList<CheckResult> checks)
    {
        Report.Table(Heads, [.. checks.Select(check => new[] { check.Name, Measured(check), Limit(check), Verdict(check), check.Source })]);
        foreach (var failed in checks.Where(check => !check.Holds))
        {
            foreach (var place in failed.Places)
            {
                Console.Out.WriteLine($"{failed.Name}: {place}");
            }
        }

        var fails = checks.Count(check => !check.Holds);
        var made = checks.Count(check => check.Value is not null);
        Console.Out.WriteLine(fails == 0 ? $"all {made} checks pass" : $"{fails} of {made} checks fail");
    }

    private static string Verdict(CheckResult check) => check.Value is null ? "-" : check.Holds ? "ok" : "FAILS";

    private static string Measured(CheckResult check) => check.Value is { } value ? $"{Number(value)} {check.Unit}" : "nothing to measure";

    private static string Limit(CheckResult check) => (check.AtLeast, check.AtMost) switch
    {
        ({ } least, { } most) => $"{Number(least)} to {Number(most)}",
        ({ } least, null) => $"at least {Number(least)}",
        (null, { } most) => $"at most {Number(most)}",
        _ => "none",
    };

    private static string Number(double value) => value.ToString("0.##", CultureInfo.InvariantCulture);

    private static void WriteJson(IBarSource band, IReadOnlyList<CheckResult> checks, Stream to)
    {
        using var json = new Utf8JsonWriter(
            to, new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        json.WriteStartObject();
        json.WriteString("title", band.Heading.Title);
        json.WriteBoolean("holds", checks.All(check => check.Holds));
        json.WriteStartArray("checks");
        foreach (var check in checks)
        {
            json.WriteStartObject();
            json.WriteString("name", check.Name);
            WriteNumber(json, "value", check.Value);
            json.WriteString("unit", check.Unit);
            WriteNumber(json, "atLeast", check.AtLeast);
            WriteNumber(json, "atMost", check.AtMost);
            json.WriteBoolean("holds", check.Holds);
            json.WriteString("source", check.Source);
            json.WriteStartArray("places");
            foreach (var place in check.Places)
            {
                json.WriteStringValue(place);
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteEndObject();
        json.Flush();
        to.WriteByte((byte)'\n');
    }

    // Null if there was nothing to measure, or the value is not finite.
    private static void WriteNumber(Utf8JsonWriter json, string name, double? value)
    {
        if (value is { } number && double.IsFinite(number))
        {
            json.WriteNumber(name, Math.Round(number, 4));
        }
        else
        {
            json.WriteNull(name);
        }
    }
}
