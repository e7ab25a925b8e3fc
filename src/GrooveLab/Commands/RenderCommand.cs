using System.CommandLine;
using GrooveLab.Audio.Playback;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>render</c>: a chart into a WAV file, and its parts into files of their own; or any MIDI file into one.</summary>
internal static class RenderCommand
{
    public static Command Create()
    {
        var command = new Command("render", "Play a chart, or a MIDI file, into a WAV file.");
        var chart = new Argument<string>("CHART") { Description = "The chart's file, or a MIDI file." };
        var output = new Option<string>("--output", "-o") { Description = "The WAV file to write.", HelpName = "FILE.wav", Required = true };
        var stems = new Option<string?>("--stems") { Description = "Also write each part into a file of its own, in this folder.", HelpName = "FOLDER" };
        var only = new Option<string?>("--only") { Description = "Only these parts (or roles), joined by commas.", HelpName = "PART,..." };
        var without = new Option<string?>("--without") { Description = "Without these parts (or roles), joined by commas.", HelpName = "PART,..." };
        var bank = new Option<string?>("--bank") { Description = "A SoundFont bank instead of the built-in sounds.", HelpName = "FILE" };
        var rate = new Option<int>("--rate") { Description = "Frames a second; 48000 if not said.", HelpName = "HZ", DefaultValueFactory = _ => 48_000 };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start on the first bar, without chord, start note, count and pickup." };
        var dry = new Option<bool>("--dry") { Description = "Without reverb and chorus." };
        var tail = new Option<double>("--tail") { Description = "Seconds left to ring at the end; 2 if not said.", HelpName = "S", DefaultValueFactory = _ => 2.0 };
        var level = new Option<double>("--level") { Description = "Louder, or softer if negative, by so many dB.", HelpName = "DB", DefaultValueFactory = _ => 0.0 };
        var force = new Option<bool>("--force") { Description = "Replace files that are there." };
        OptionRanges.Whole(rate, 8_000, 192_000);
        OptionRanges.Number(tail, 0, 60);
        OptionRanges.Number(level, -40, 20);
        command.Arguments.Add(chart);
        command.Options.Add(output);
        var options = new ChartOptions(command);
        foreach (var option in new Option[] { stems, only, without, bank, rate, noCountIn, dry, tail, level, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => CommandLine.Guard(() =>
        {
            var path = parsed.GetValue(output)!;
            if (!path.EndsWith(".wav", StringComparison.OrdinalIgnoreCase))
            {
                throw CommandFailure.BadInput($"-o {path}: the file's name must end in .wav");
            }

            var source = parsed.GetValue(chart)!;
            if (MidiRendering.IsMidi(source))
            {
                ForChartsOnly(parsed, options.All.Concat([stems, only, without, noCountIn]));
                WholeFile.Refuse(path, parsed.GetValue(force));
                var settings = new MidiRenderSettings(
                    parsed.GetValue(rate), parsed.GetValue(tail), parsed.GetValue(level), parsed.GetValue(dry), parsed.GetValue(force));
                var file = MidiRendering.Read(source);
                Rendering.Tell(MidiRendering.Render(file, path, Banks.Open(parsed.GetValue(bank)), settings));
                return ExitCodes.Ok;
            }

            var band = options.Compose(ChartFiles.Read(source), parsed, !parsed.GetValue(noCountIn));
            var how = new RenderOptions
            {
                SampleRate = parsed.GetValue(rate),
                TailSeconds = parsed.GetValue(tail),
                MasterDecibels = Renderer.DefaultMasterDecibels + parsed.GetValue(level),
                Only = Names(parsed.GetValue(only)),
                Without = Names(parsed.GetValue(without)) ?? [],
                Force = parsed.GetValue(force),
            };
            var sounds = Banks.Open(parsed.GetValue(bank));
            try
            {
                WholeFile.Refuse(path, how.Force);
                var isDry = parsed.GetValue(dry);
                if (parsed.GetValue(stems) is { } folder)
                {
                    Directory.CreateDirectory(folder);
                    foreach (var file in Rendering.Stems(band, folder, how, sounds, isDry))
                    {
                        Rendering.Tell(file, isOneOfMany: true);
                    }
                }

                Rendering.Tell(Rendering.Mix(band, path, how, sounds, isDry), isOneOfMany: parsed.GetValue(stems) is not null);
                return ExitCodes.Ok;
            }
            catch (ArgumentException problem)
            {
                throw CommandFailure.BadInput(problem.Message);
            }
        }));
        return command;
    }

    // A MIDI file says all that these would say.
    private static void ForChartsOnly(ParseResult parsed, IEnumerable<Option> options)
    {
        var given = options.Where(option => parsed.GetResult(option) is { Implicit: false }).Select(option => option.Name).ToList();
        if (given.Count > 0)
        {
            throw CommandFailure.BadInput($"{string.Join(", ", given)}: for charts only; a MIDI file takes --bank, --dry, --rate, --tail, --level and --force");
        }
    }

    private static string[]? Names(string? list) =>
        list?.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
}
