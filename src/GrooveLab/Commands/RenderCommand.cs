using System.CommandLine;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;

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
                File = into with { Title = band.Chart.Title, Description = Description(band) },
            };
            var sounds = bank.Open(parsed);
            try
            {
                OutputFile.Refuse(path, into.Force, source, bank.File(parsed));
                Banks.Tell(sounds, band.Band.Where(Renderer.PartsOf(band, how)));
                var isDry = parsed.GetValue(dry);
                if (parsed.GetValue(stems) is { } folder)
                {
                    foreach (var stem in Renderer.StemPaths(band, folder, how))
                    {
                        OutputFile.RefuseInput(stem, source, bank.File(parsed));
                    }

                    RenderStems(folder, () => Rendering.Stems(band, folder, how, sounds, isDry), path);
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

    // Removes a new folder of stems if nothing was written, for instance on a full disk.
    private static void RenderStems(string folder, Func<IReadOnlyList<RenderedFile>> render, string output)
    {
        var isNew = !Directory.Exists(folder);
        Directory.CreateDirectory(folder);
        try
        {
            foreach (var file in render())
            {
                Rendering.Tell(file, output, isOneOfMany: true, isStem: true);
            }
        }
        finally
        {
            if (isNew && !Directory.EnumerateFileSystemEntries(folder).Any())
            {
                Directory.Delete(folder);
            }
        }
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

    // What a player shows under the title: the key, the meters and the tempo.
    private static string Description(BarComposer band) => string.Join(
        ", ", band.Heading.Meters.Select(meter => meter.ToString()).Prepend(band.Heading.Key.ToString()).Append(BarGrid.TempoText(band.BarAt(0))));

    internal static string[]? Names(string? list) =>
        list?.Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
}
