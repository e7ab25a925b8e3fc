using System.CommandLine;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>render</c>: renders a chart or any MIDI file to a sound file, and the parts of a chart to separate files.</summary>
internal static class RenderCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("render", "Render CHART, a chart or MIDI file, to WAV, FLAC or Opus.", "groovelab render song.toml -o song.wav --bars 16");
        var chart = new Argument<string>("CHART");
        var output = new Option<string>("--output", "-o") { Description = "File to write: .wav, .flac or .opus. Required.", HelpName = "FILE", Required = true };
        var stems = new Option<string?>("--stems") { Description = "Also write each part to its own file in FOLDER.", HelpName = "FOLDER" };
        var only = new Option<string?>("--only") { Description = "Render only these parts or roles.", HelpName = "PART,..." };
        var without = new Option<string?>("--without") { Description = "Leave out these parts or roles.", HelpName = "PART,..." };
        var format = new Option<string?>("--format") { Description = "wav, wav24, flac, flac24 or opus. Default: by FILE.", HelpName = "FORMAT" };
        var rate = new Option<int>("--rate") { Description = "Sample rate. Default: 48000.", HelpName = "HZ", DefaultValueFactory = _ => 48_000 };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start at bar 1, without lead-in and pickup." };
        var dry = new Option<bool>("--dry") { Description = "Leave out reverb and chorus." };
        var tail = new Option<double>("--tail") { Description = "Seconds of ringing after the end. Default: 2.", HelpName = "S", DefaultValueFactory = _ => 2.0 };
        var level = new Option<double>("--level") { Description = "Change of the overall level in dB. Default: 0.", HelpName = "DB", DefaultValueFactory = _ => 0.0 };
        var force = new Option<bool>("--force") { Description = "Replace existing files." };
        format.AcceptOnlyFromAmong([.. SoundFormats.Words]);
        OptionRanges.Whole(rate, 8_000, 192_000);
        OptionRanges.Number(tail, 0, 60);
        OptionRanges.Number(level, -40, 20);
        Completion.WithCharts(chart, ".mid", ".midi");
        Completion.WithSoundFiles(output);
        Completion.WithFiles(stems.CompletionSources);
        Completion.WithParts(only, chart);
        Completion.WithParts(without, chart);
        command.Arguments.Add(chart);
        command.Options.Add(output);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        foreach (var option in new Option[] { stems, only, without, format, rate, noCountIn, dry, tail, level, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var path = OutputFile.PathOf(parsed.GetValue(output)!);
            var into = OutputFile.Sound(path, parsed.GetValue(format), parsed.GetValue(force));
            var source = parsed.GetValue(chart)!;
            if (MidiRendering.IsMidi(source))
            {
                ForChartsOnly(parsed, options.All.Concat([stems, only, without, noCountIn]));
                OutputFile.Refuse(path, into.Force, source, bank.File(parsed));
                var settings = new MidiRenderSettings(
                    parsed.GetValue(rate), parsed.GetValue(tail), parsed.GetValue(level), parsed.GetValue(dry), into);
                var file = MidiRendering.Read(source);
                Rendering.Tell(MidiRendering.Render(file, source, path, bank.Open(parsed), settings), path);
                return ExitCodes.Ok;
            }

            new SoundJob
            {
                Band = options.Compose(ChartFiles.Read(source), parsed, !parsed.GetValue(noCountIn)),
                Path = path,
                File = into,
                Inputs = [source, bank.File(parsed)],
                Only = SoundJob.Names(parsed.GetValue(only)),
                Without = SoundJob.Names(parsed.GetValue(without)) ?? [],
                Stems = parsed.GetValue(stems),
                SampleRate = parsed.GetValue(rate),
                TailSeconds = parsed.GetValue(tail),
                LevelDecibels = parsed.GetValue(level),
                Dry = parsed.GetValue(dry),
            }.Write(bank.Open(parsed));
            return ExitCodes.Ok;
        }));
        return command;
    }

    // A MIDI file already determines everything that these options set.
    private static void ForChartsOnly(ParseResult parsed, IEnumerable<Option> options)
    {
        var given = options.Where(option => parsed.GetResult(option) is { Implicit: false }).Select(option => option.Name).ToList();
        if (given.Count > 0)
        {
            throw CommandFailure.BadInput($"{string.Join(", ", given)} need a chart; a MIDI file takes only --bank, --attenuation, --dry, --format, --rate, --tail, --level and --force");
        }
    }
}
