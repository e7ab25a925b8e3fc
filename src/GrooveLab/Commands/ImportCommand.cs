using System.CommandLine;
using System.Globalization;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Wording;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>import</c>: makes a chart from a score.</summary>
internal static class ImportCommand
{
    public static Command Create()
    {
        var command = new ProgramCommand("import", "Make a chart from a score (MusicXML, MIDI, ABC, words).", "groovelab import song.musicxml -o song.toml");
        var score = new Argument<string>("SCORE") { Description = "Score to read; - for standard input." };
        var output = new Option<string?>("--output", "-o") { Description = "Chart to write; - for standard output. Required without --json.", HelpName = "CHART.toml" };
        var from = new Option<string?>("--from") { Description = "Format: musicxml, midi, abc or words. Default: found out.", HelpName = "FORMAT" };
        var part = new Option<string?>("--part") { Description = "Part with the tune: its name or number. Default: the one with words.", HelpName = "PART" };
        var tune = new Option<int?>("--tune") { Description = "Which tune of a file with several, by its number.", HelpName = "N" };
        var meter = new Option<string?>("--meter") { Description = "Meter of a score that names none: \"5/8 3+2\".", HelpName = "METER" };
        var key = new Option<string?>("--key") { Description = "Key of a score that names none: \"D dorian\".", HelpName = "KEY" };
        var tempo = new Option<string?>("--tempo") { Description = "Tempo of a score that names none: \"quarter = 96\".", HelpName = "TEMPO" };
        var grid = new Option<string?>("--grid") { Description = "Bar lines of a MIDI file: file (its own) or found. Default: decided from the file.", HelpName = "WHOSE" };
        var firstBar = new Option<double?>("--first-bar") { Description = "When a bar begins in a MIDI file performed without bar lines.", HelpName = "SECONDS" };
        var barsInLine = new Option<int?>("--bars-in-line") { Description = "Bars for each line of words without bar lines.", HelpName = "N" };
        var range = new Option<string?>("--range") { Description = "A singer's range, to suggest keys: A3-D5.", HelpName = "LOW-HIGH" };
        var json = new Option<bool>("--json") { Description = "Print the report as JSON." };
        var force = new Option<bool>("--force") { Description = "Replace an existing file." };
        from.AcceptOnlyFromAmong([.. ScoreFiles.Words]);
        grid.AcceptOnlyFromAmong("file", "found");
        OptionRanges.Number(firstBar, 0, 100_000);
        OptionRanges.Whole(tune, 1, 100_000);
        OptionRanges.Whole(barsInLine, 1, 64);
        Completion.WithFiles(score.CompletionSources, [.. ScoreFiles.Endings]);
        Completion.WithFiles(output.CompletionSources, ".toml");
        Completion.WithKeys(key);
        command.Arguments.Add(score);
        foreach (var option in new Option[] { output, from, part, tune, meter, key, tempo, grid, firstBar, barsInLine, range, json, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var given = parsed.GetValue(score)!;
            var asJson = parsed.GetValue(json);
            if (parsed.GetValue(output) is not { } target)
            {
                target = asJson ? string.Empty : throw CommandFailure.BadInput("-o is missing; say where to write the chart, such as -o song.toml");
            }

            var path = target == "-" ? DurableFile.StandardOutput : target;
            var isForced = parsed.GetValue(force);
            if (path.Length > 0)
            {
                OutputFile.NeedEnding(path, ".toml");
                OutputFile.Refuse(path, isForced, given);
                if (asJson && DurableFile.IsStream(path))
                {
                    throw CommandFailure.BadInput("--json and -o - both write to standard output; name a file with -o");
                }
            }

            var singer = Range(parsed.GetValue(range));
            var questions = !asJson && given != StandardInput.Word && path != DurableFile.StandardOutput && ImportQuestions.CanAsk
                ? new ImportQuestions(Console.In, Console.Error)
                : null;
            var report = Read(given, parsed.GetValue(from), questions, new ScoreOptions
            {
                Name = StandardInput.NameOf(given),
                Tune = parsed.GetValue(tune),
                Meter = parsed.GetValue(meter),
                Key = parsed.GetValue(key),
                Tempo = parsed.GetValue(tempo),
                Grid = parsed.GetValue(grid) switch { "file" => MidiGrid.File, "found" => MidiGrid.Found, _ => null },
                BarAt = parsed.GetValue(firstBar),
                BarsInLine = parsed.GetValue(barsInLine),
            }, parsed.GetValue(part)) with
            { Singer = singer, Target = path };
            if (report.Text is { } text && path.Length > 0)
            {
                OutputFile.NeedWritten(DurableFile.WriteText(path, text, OutputFile.Options(isForced)));
            }

            if (asJson)
            {
                using var to = Console.OpenStandardOutput();
                report.WriteJson(to);
            }
            else
            {
                foreach (var problem in report.Errors)
                {
                    Console.Error.WriteLine(problem);
                }

                var lines = OutputFile.Remarks(path);
                foreach (var line in report.Lines())
                {
                    lines.WriteLine(line);
                }
            }

            return report.Text is null ? ExitCodes.BadInput : ExitCodes.Ok;
        }));
        return command;
    }

    private static ImportReport Read(string given, string? format, ImportQuestions? questions, ScoreOptions options, string? part)
    {
        var bytes = ScoreBytes.Read(given);
        if (given.EndsWith(".toml", StringComparison.OrdinalIgnoreCase) && format is null)
        {
            throw CommandFailure.BadInput($"{given} is a chart already; import reads scores: MusicXML, MIDI, ABC, and words with chords above them");
        }

        var known = format is null ? ScoreFiles.FormatOf(bytes, given) : ScoreFiles.OfWord(format)!.Value;
        if (known == ScoreFormat.Words && questions is not null)
        {
            options = questions.Ask(bytes, options);
        }

        var made = ScoreImport.Make(bytes, known, options, part);
        return new ImportReport(known, made.Reading) { Song = made.Song, Text = made.Text, Refusal = made.Refusal };
    }

    private static (Pitch Low, Pitch High)? Range(string? text)
    {
        if (text is null)
        {
            return null;
        }

        var sides = text.Split('-', 2, StringSplitOptions.TrimEntries);
        return sides.Length == 2 && Pitch.TryParse(sides[0], out var low) && Pitch.TryParse(sides[1], out var high) && low.Midi < high.Midi
            ? (low, high)
            : throw CommandFailure.BadInput(string.Create(CultureInfo.InvariantCulture, $"--range must be two notes, the lower one first, such as A3-D5, not '{text}'"));
    }
}
