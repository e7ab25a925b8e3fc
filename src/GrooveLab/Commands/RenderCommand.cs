using System.CommandLine;
using GrooveLab.Audio.Playback;
using GrooveLab.Inputs;

namespace GrooveLab.Commands;

/// <summary><c>render</c>: renders a chart to a WAV file, and its parts to separate files; or any MIDI file to a WAV file.</summary>
internal static class RenderCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("render", "Render CHART, a chart or a MIDI file, to a WAV file.", "groovelab render song.toml -o song.wav --bars 16");
        var chart = new Argument<string>("CHART");
        var output = new Option<string>("--output", "-o") { Description = "WAV file to write. Required.", HelpName = "FILE.wav", Required = true };
        var stems = new Option<string?>("--stems") { Description = "Also write each part to its own file in FOLDER.", HelpName = "FOLDER" };
        var only = new Option<string?>("--only") { Description = "Render only these parts or roles.", HelpName = "PART,..." };
        var without = new Option<string?>("--without") { Description = "Leave out these parts or roles.", HelpName = "PART,..." };
        var rate = new Option<int>("--rate") { Description = "Sample rate. Default: 48000.", HelpName = "HZ", DefaultValueFactory = _ => 48_000 };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start at bar 1, without lead-in and pickup." };
        var dry = new Option<bool>("--dry") { Description = "Leave out reverb and chorus." };
        var tail = new Option<double>("--tail") { Description = "Seconds of ringing after the end. Default: 2.", HelpName = "S", DefaultValueFactory = _ => 2.0 };
        var level = new Option<double>("--level") { Description = "Change of the overall level in dB. Default: 0.", HelpName = "DB", DefaultValueFactory = _ => 0.0 };
        var force = new Option<bool>("--force") { Description = "Replace existing files." };
        OptionRanges.Whole(rate, 8_000, 192_000);
        OptionRanges.Number(tail, 0, 60);
        OptionRanges.Number(level, -40, 20);
        command.Arguments.Add(chart);
        command.Options.Add(output);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        foreach (var option in new Option[] { stems, only, without, rate, noCountIn, dry, tail, level, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var path = parsed.GetValue(output)!;
            OutputFile.NeedEnding(path, ".wav");
            var source = parsed.GetValue(chart)!;
            if (MidiRendering.IsMidi(source))
            {
                ForChartsOnly(parsed, options.All.Concat([stems, only, without, noCountIn]));
                OutputFile.Refuse(path, parsed.GetValue(force));
                var settings = new MidiRenderSettings(
                    parsed.GetValue(rate), parsed.GetValue(tail), parsed.GetValue(level), parsed.GetValue(dry), parsed.GetValue(force));
                var file = MidiRendering.Read(source);
                Rendering.Tell(MidiRendering.Render(file, path, bank.Open(parsed), settings), path);
                return ExitCodes.Ok;
            }

            var read = ChartFiles.Read(source);
            var band = options.Compose(read, parsed, !parsed.GetValue(noCountIn));
            var wanted = Names(parsed.GetValue(only));
            var how = new RenderOptions
            {
                SampleRate = parsed.GetValue(rate),
                TailSeconds = parsed.GetValue(tail),
                MasterDecibels = Renderer.DefaultMasterDecibels + parsed.GetValue(level),
                Only = wanted,

                // Parts that the chart makes silent are heard only when they are asked for.
                Without = [.. Names(parsed.GetValue(without)) ?? [], .. read.Parts.Where(part => part.Silent && wanted?.Any(part.IsCalled) != true).Select(part => part.Name)],
                Force = parsed.GetValue(force),
            };
            var sounds = bank.Open(parsed);
            try
            {
                OutputFile.Refuse(path, how.Force);
                var isDry = parsed.GetValue(dry);
                if (parsed.GetValue(stems) is { } folder)
                {
                    Directory.CreateDirectory(folder);
                    foreach (var file in Rendering.Stems(band, folder, how, sounds, isDry))
                    {
                        Rendering.Tell(file, path, isOneOfMany: true);
                    }
                }

                Rendering.Tell(Rendering.Mix(band, path, how, sounds, isDry), path, isOneOfMany: parsed.GetValue(stems) is not null);
                return ExitCodes.Ok;
            }
            catch (ArgumentException problem)
            {
                throw CommandFailure.BadInput(problem.Message);
            }
        }));
        return command;
    }

    // A MIDI file already determines everything that these options set.
    private static void ForChartsOnly(ParseResult parsed, IEnumerable<Option> options)
    {
        var given = options.Where(option => parsed.GetResult(option) is { Implicit: false }).Select(option => option.Name).ToList();
        if (given.Count > 0)
        {
            throw CommandFailure.BadInput($"{string.Join(", ", given)} need a chart; a MIDI file takes only --bank, --attenuation, --dry, --rate, --tail, --level and --force");
        }
    }

    internal static string[]? Names(string? list) =>
        list?.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
}
