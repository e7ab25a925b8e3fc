using System.CommandLine;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Exchange.Charts;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Outputs;
using GrooveLab.Screen;
using GrooveLab.Store;

namespace GrooveLab.Commands;

/// <summary><c>play</c>: plays a chart live.</summary>
internal static class PlayCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("play", "Play charts live.", "groovelab play song.toml --tempo 80% --feel bar");
        var charts = new Argument<string[]>("CHART")
        {
            Description = "Chart files or presets, or a list of them (.set). Default: the demo.",
            Arity = ArgumentArity.ZeroOrMore,
        };
        var noScreen = new Option<bool>("--no-screen") { Description = "Show one status line instead of the screen." };
        var ascii = new Option<bool>("--ascii") { Description = "Draw the screen with ASCII characters only." };
        var device = new Option<string?>("--device") { Description = "Sound output, as listed by 'groovelab devices'.", HelpName = "NAME" };
        var buffer = new Option<int>("--buffer")
        {
            Description = "Buffer in milliseconds; longer is safer. Default: 40.",
            HelpName = "MS",
            DefaultValueFactory = _ => AudioOutputs.DefaultBufferMilliseconds,
        };
        var noCountIn = new Option<bool>("--no-count-in") { Description = "Start at bar 1, without lead-in." };
        var round = new Option<bool>("--round") { Description = "Repeat the form until told to end. Default: it ends." };
        var without = new Option<string?>("--without") { Description = "Start without these parts or roles.", HelpName = "PART,..." };
        var midiOut = new Option<string?>("--midi-out")
        {
            Description = "Send the band and a clock to a MIDI port (see 'devices').",
            HelpName = "PORT",
        };
        var followClock = new Option<string?>("--follow-clock")
        {
            Description = "Follow a MIDI port's clock: tempo, start, stop, place.",
            HelpName = "PORT",
        };
        OptionRanges.Whole(buffer, 5, 1000);
        Completion.WithMidiPorts(followClock, sends: false);
        Completion.WithMidiPorts(midiOut, sends: true);
        Completion.WithCharts(charts, SetList.Endings);
        Completion.WithDevices(device);
        command.Arguments.Add(charts);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        foreach (var option in new Option[] { noScreen, ascii, device, buffer, noCountIn, round, without, midiOut, followClock })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => CommandGuard.Run(() =>
        {
            var named = parsed.GetValue(charts) ?? [];
            var isSet = SetList.IsSet(named);
            var path = named.Length == 0 ? null : named[0];
            var silent = SoundJob.Names(parsed.GetValue(without)) ?? [];
            var leader = parsed.GetValue(followClock);
            if (leader is not null && options.HasTempo(parsed))
            {
                throw CommandFailure.BadInput("--tempo: with --follow-clock the clock sets the tempo; leave one of the two out");
            }

            using var midi = MidiLinks.Open(parsed.GetValue(midiOut), leader, Survived.Failures);

            // The clock counts in.
            var countsIn = !parsed.GetValue(noCountIn) && leader is null;
            if (!parsed.GetValue(noScreen) && path != StandardInput.Word && LiveProgram.CanShow)
            {
                var preset = path is null || isSet ? null : ChartFiles.Preset(path);
                if (path is not null && preset is null && !isSet)
                {
                    // Report a mistyped name before the screen opens; the screen reports problems inside the chart.
                    ChartFiles.NeedFile(path);
                }

                LiveProgram.Run(
                    new PerformanceOptions
                    {
                        Path = preset is null && !isSet ? path : null,
                        BuiltIn = preset is null ? null : (PresetCharts.FileName(path!), preset),
                        Start = options.Start(parsed) with
                        {
                            CountIn = countsIn,
                            Bars = options.Bars(parsed),
                            Ends = !parsed.GetValue(round),
                            Without = [.. silent],
                        },
                        Bank = bank.Name(parsed),
                        AttenuationShare = bank.AttenuationShare(parsed),
                        Device = parsed.GetValue(device),
                        BufferMilliseconds = parsed.GetValue(buffer),
                        Midi = midi,
                    },
                    parsed.GetValue(ascii),
                    set: isSet ? SetList.Read(named) : null);
                return ExitCodes.Ok;
            }

            var sounds = new Lazy<SoundFontBank>(() => bank.Open(parsed));
            var playing = new LinePlayingOptions { Device = parsed.GetValue(device), BufferMilliseconds = parsed.GetValue(buffer), Midi = midi };
            int Play(Chart read, string? file)
            {
                var band = options.Compose(read, parsed, countsIn, endless: parsed.GetValue(round));
                var muted = ChartOptions.Silent(read, silent);
                try
                {
                    Console.Error.WriteLine(band.Options switch
                    {
                        { Bars: { } bars } => bars == 1 ? "Plays 1 bar." : $"Plays {bars} bars.",
                        { Endless: true } => "Repeats the form until you stop it.",
                        _ => band.Chart.Times == 1 ? "Plays the form once." : $"Plays the form {band.Chart.Times} times.",
                    });
                    playing.Plays = part => !muted.Contains(part.Name);
                    return LinePlaying.Play(band, sounds.Value, playing);
                }
                catch (AudioDeviceException problem)
                {
                    Console.Error.WriteLine("groovelab: " + problem.Message);
                    Console.Error.WriteLine($"groovelab: to write the music to a file instead: groovelab render {(file is null or StandardInput.Word ? "CHART" : file)} -o FILE.wav");
                    return ExitCodes.NoDevice;
                }
            }

            if (!isSet)
            {
                return Play(path is null ? DemoCommand.Chart() : ChartFiles.Read(path), path);
            }

            var set = SetList.Read(named);
            foreach (var problem in set.Problems)
            {
                Console.Error.WriteLine("groovelab: " + problem);
            }

            var result = ExitCodes.Ok;
            foreach (var song in set.Songs.Where(song => song.IsPlayable))
            {
                Console.Error.WriteLine($"{song.Title}:");
                result = Play(ChartFiles.Read(song.Path), song.Path);
                if (result != ExitCodes.Ok || playing.WasStopped)
                {
                    return result;
                }
            }

            return set.Problems.Count > 0 ? ExitCodes.BadInput : result;
        }));
        return command;
    }
}
