using System.CommandLine;
using GrooveLab.Export;
using GrooveLab.Inputs;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Wording;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>export</c>: writes what the band plays to a file; the ending of its name says which kind of file.</summary>
internal static class ExportCommand
{
    private static readonly string[] Endings = [.. ExportKind.All.SelectMany(kind => kind.Endings)];

    public static Command Create()
    {
        var command = new ProgramCommand(
            "export", "Write a file for other programs, or to print.", "groovelab export song.toml -o song.mid --exact");
        var chart = new Argument<string>("CHART") { Description = "Chart file." };
        var output = new Option<string>("--output", "-o")
        {
            Description = $"File to write: {Words.Or([.. ExportKind.All.SelectMany(kind => kind.Shown)])}. Required.",
            HelpName = "FILE",
            Required = true,
        };
        var exact = new Option<bool>(ExportKind.Exact) { Description = "MIDI: every note exactly on its written time." };
        var part = new Option<string?>(ExportKind.Part) { Description = "Only this part.", HelpName = "PART" };
        var singer = new Option<bool>(ExportKind.Singer) { Description = "Sheet: for the singer, words first." };
        var without = new Option<string?>(ExportKind.Without) { Description = "Sound: leave out these parts or roles.", HelpName = "PART,..." };
        var stems = new Option<string?>(ExportKind.Stems) { Description = "Sound: also write each part to its own file in FOLDER.", HelpName = "FOLDER" };
        var noCountIn = new Option<bool>(ExportKind.NoCountIn) { Description = "Start at bar 1, without lead-in and pickup." };
        var force = new Option<bool>("--force") { Description = "Replace existing files." };
        Completion.WithCharts(chart);
        Completion.WithFiles(output.CompletionSources, Endings);
        Completion.WithFiles(stems.CompletionSources);
        Completion.WithParts(part, chart);
        Completion.WithParts(without, chart);
        command.Arguments.Add(chart);
        command.Options.Add(output);
        var options = new ChartOptions(command);
        var bank = new BankOptions(command);
        foreach (var option in new Option[] { exact, part, singer, without, stems, noCountIn, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var problems = new ProblemList();
            var source = parsed.GetValue(chart)!;
            var isForced = parsed.GetValue(force);
            string[] inputs = [source, .. bank.File(parsed) is { } file ? new[] { file } : []];
            var path = OutputFile.PathOf(parsed.GetValue(output)!);
            var kind = problems.Try(() => KindOf(path));
            if (kind is not null)
            {
                problems.Add(command.Options.Where(option => parsed.GetResult(option) is { Implicit: false }).Select(option => kind.Refusal(option.Name)));
                problems.Try(() => OutputFile.Refuse(path, isForced, inputs));
            }

            var band = problems.Try(() => options.Compose(ChartFiles.Read(source), parsed, !parsed.GetValue(noCountIn)));
            var job = band is null ? null : new ExportJob
            {
                Band = band,
                Path = path,
                Force = isForced,
                Inputs = inputs,
                IsExact = parsed.GetValue(exact),
                Part = parsed.GetValue(part),
                ForSinger = parsed.GetValue(singer),
                Without = SoundJob.Names(parsed.GetValue(without)) ?? [],
                Stems = parsed.GetValue(stems),
                OpenBank = () => bank.Open(parsed),
            };
            if (job is not null)
            {
                problems.Try(job.NeedParts);
                problems.Add(problems.IsEmpty ? kind!.Problems(job) : []);
            }

            problems.NeedNone();
            kind!.Write(job!);
            return ExitCodes.Ok;
        }));
        return command;
    }

    private static ExportKind KindOf(string path)
    {
        OutputFile.NeedEnding(path, Endings);
        return ExportKind.OfName(path) ?? ExportKind.All[0];
    }
}
