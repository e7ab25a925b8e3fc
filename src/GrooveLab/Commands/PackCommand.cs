using System.CommandLine;
using System.Globalization;
using GrooveLab.Audio.BuiltInSounds;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Outputs;
using GrooveLab.Pack;

namespace GrooveLab.Commands;

/// <summary><c>pack</c>: makes a folder with everything that a band needs for rehearsing one song or a set of songs.</summary>
internal static class PackCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand(
            "pack", "Make a folder with mixes, tempi, scores and sheets.", "groovelab pack song.toml -o song-pack --zip");
        var charts = new Argument<string[]>("CHART")
        {
            Description = "Chart files or presets, or a list of them (.set).",
            Arity = ArgumentArity.OneOrMore,
        };
        var output = new Option<string>("--output", "-o") { Description = "Folder: new, empty, or an older pack. Required.", HelpName = "FOLDER", Required = true };
        var zip = new Option<bool>("--zip") { Description = "Also write FOLDER.zip beside it." };
        var tempi = new Option<string?>("--tempi") { Description = "Percent of the chart's tempo. Default: 70,85,100.", HelpName = "N,..." };
        var singers = new Option<string[]>("--singer")
        {
            Description = "Add the key of a singer, or the nearest one for a range: Mara=A3-D5. May be repeated.",
            HelpName = "NAME=KEY",
            Arity = ArgumentArity.OneOrMore,
            AllowMultipleArgumentsPerToken = false,
        };
        var sound = new Option<string?>("--sound") { Description = "opus, flac or wav. Default: opus.", HelpName = "FORMAT" };
        var sounds = new Dictionary<string, SoundFormat>(StringComparer.Ordinal)
        {
            ["opus"] = SoundFormat.Opus,
            ["flac"] = SoundFormat.Flac,
            ["wav"] = SoundFormat.Wave,
        };
        sound.AcceptOnlyFromAmong([.. sounds.Keys]);
        Completion.WithCharts(charts, SetList.Endings);
        Completion.WithFiles(output.CompletionSources);
        Completion.With(tempi, "70,85,100", "50,75,100", "100");
        command.Arguments.Add(charts);
        foreach (var option in new Option[] { output, zip, tempi, singers, sound })
        {
            command.Options.Add(option);
        }

        var bank = new BankOptions(command);
        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var problems = new ProblemList();
            var folder = Path.TrimEndingDirectorySeparator(Path.GetFullPath(parsed.GetValue(output)!));
            problems.Add(MadeFolder.Refusal(folder, PackPlan.Record));
            var settings = new PackSettings { Sound = sounds[parsed.GetValue(sound) ?? "opus"] };
            if (parsed.GetValue(tempi) is { } given)
            {
                settings = settings with { Tempi = problems.Try(() => PackSettings.ReadTempi(given)) ?? settings.Tempi };
            }

            settings = settings with { Singers = [.. (parsed.GetValue(singers) ?? []).Select(one => problems.Try(() => PackSinger.Read(one))).OfType<PackSinger>()] };
            var identity = problems.Try(() => BankIdentity(bank.Name(parsed), bank.File(parsed), bank.AttenuationShare(parsed)));
            var remarks = new List<string>();
            var songs = PackSongs.Read(parsed.GetValue(charts)!, settings, problems, remarks);
            problems.NeedNone();

            var name = Path.GetFileName(folder);
            var plan = PackPlan.Of(songs, settings, identity!, Build, parsed.GetValue(zip) ? name : null);
            return Interrupts.Run(stop => Make(
                folder, plan, (made) => new Packer(made, plan, settings, songs.Count == 1 ? songs[0].Title : name, () => bank.Open(parsed), Progress), remarks, stop));
        }));
        return command;
    }

    private static int Make(string folder, PackPlan plan, Func<MadeFolder, Packer> packer, List<string> remarks, CancellationToken stop)
    {
        PackResult result;
        try
        {
            using var made = MadeFolder.Open(folder, PackPlan.Record);
            var problems = new ProblemList();
            problems.Add(made.Foreign(plan.Paths).Select(made.ForeignProblem));
            problems.NeedNone();
            if (made.IsDamaged)
            {
                remarks.Add($"{PackPlan.Record} was damaged; every file is made again and compared with the one in the folder");
            }

            result = packer(made).Run(stop);
        }
        catch (OperationCanceledException)
        {
            throw new CommandFailure(ExitCodes.Failed, "stopped; the same command continues");
        }
        catch (FileRefusedException refused)
        {
            throw new CommandFailure(ExitCodes.Failed, $"{refused.Message}; the same command continues");
        }

        foreach (var remark in remarks.Concat(result.Remarks))
        {
            Console.Error.WriteLine("groovelab: " + remark);
        }

        Console.Out.WriteLine(string.Create(
            CultureInfo.CurrentCulture,
            $"{folder}: {result.Made} made, {result.UpToDate} up to date, {result.Removed} removed; open {Path.Combine(folder, PackPlan.Index)}"));
        return ExitCodes.Ok;
    }

    // Any change in the code that composes, plays or writes changes one of them.
    private static string Build => string.Join(
        ' ',
        new[] { typeof(PackPlan), typeof(Music.Bars.Bar), typeof(Exchange.Midi.MidiFile), typeof(BuiltInBank) }.Select(type => type.Module.ModuleVersionId.ToString("N")));

    private static string BankIdentity(string? name, string? file, float attenuation) => name is null or Banks.BuiltIn
        ? Banks.BuiltIn
        : file is null
            ? throw CommandFailure.BadInput($"{name}: bank not found; give a .sf2 or .sf3 file, or a name from 'groovelab banks'")
            : $"{ContentHash.OfFile(file)} {attenuation.ToString(CultureInfo.InvariantCulture)}";

    private static PackProgress Progress(double weight, int steps) => new(
        Console.Error,
        !Console.IsErrorRedirected && Environment.GetEnvironmentVariable("TERM") is not "dumb",
        TimeProvider.System,
        weight,
        steps);
}
