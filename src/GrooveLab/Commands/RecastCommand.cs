using System.CommandLine;
using System.Globalization;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.SongTexts;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary><c>recast</c>: moves a song into another meter.</summary>
internal static class RecastCommand
{
    private const string Beat = "beat";
    private const string HalfBar = "half-bar";
    private const string Bar = "bar";
    private const string Stretch = "stretch";
    private const string Straighten = "straighten";
    private const string AddBeatWord = "add-beat";
    private const int MostNotesForFinerGrid = 600;
    private const string Light = "light";
    private const string Strong = "strong";
    private const string Literal = "literal";
    private const string Rounded = "rounded";
    private static readonly string[] Spans = [Beat, HalfBar, Bar];

    public static Command Create()
    {
        var command = new ProgramCommand("recast", "Move a song into another meter.", "groovelab recast song.toml --to 5/8 --span half-bar -o five.toml");
        var input = new Argument<string>("SONG") { Description = "Chart, or score to import; - for standard input." };
        var to = new Option<string?>("--to") { Description = "The meter, required: 5/8, or \"5/8 3+2\".", HelpName = "METER" };
        var grouping = new Option<string?>("--grouping") { Description = "Grouping: 3+2; none for only bar lines.", HelpName = "GROUPS" };
        var span = new Option<string?>("--span") { Description = "What becomes a bar: beat, half-bar or bar. Default: the cheapest.", HelpName = "SPAN" };
        var addBeat = new Option<string?>("--add-beat") { Description = "Add a beat to each bar after beat N, or stretch it.", HelpName = "N|stretch" };
        var section = new Option<string[]>("--section") { Description = "A section's own way: \"bridge=5/4:add-beat 4\".", HelpName = "NAME=METER" };
        var tempo = new Option<string?>("--tempo") { Description = "Keep the length or the notes, or \"bar = 50\".", HelpName = "TEMPO" };
        var pushed = new Option<string?>("--pushed") { Description = "Notes held over a strong beat: keep or straighten.", HelpName = "HOW" };
        var grid = new Option<string?>("--grid") { Description = "Longest step of places: eighth (default), sixteenth.", HelpName = "NOTE" };
        var backPhrasing = new Option<string?>("--back-phrasing") { Description = "Words sung late: none, light or strong.", HelpName = "HOW" };
        var written = new Option<string?>("--written") { Description = "Late words: plain (marks), rounded or literal.", HelpName = "HOW" };
        var rank = new Option<bool>("--rank") { Description = "Compare all ways; -o FOLDER writes the best." };
        var part = new Option<string?>("--part") { Description = "The tune's part in a score: its name or number.", HelpName = "PART" };
        var output = new Option<string?>("--output", "-o") { Description = "Chart to write; - for standard output.", HelpName = "CHART.toml" };
        var json = new Option<bool>("--json") { Description = "Print the report as JSON." };
        var force = new Option<bool>("--force") { Description = "Replace an existing file." };
        span.AcceptOnlyFromAmong(Spans);
        pushed.AcceptOnlyFromAmong("keep", Straighten);
        backPhrasing.AcceptOnlyFromAmong("none", Light, Strong);
        written.AcceptOnlyFromAmong(Literal, Rounded, "plain");
        Completion.With(addBeat, Stretch);
        Completion.With(tempo, "length", "notes");
        Completion.With(grid, "eighth", "sixteenth");
        Completion.WithCharts(input);
        Completion.WithFiles(output.CompletionSources, ".toml");
        command.Arguments.Add(input);
        foreach (var option in new Option[] { to, grouping, span, addBeat, section, tempo, pushed, grid, backPhrasing, written, rank, part, output, json, force })
        {
            command.Options.Add(option);
        }

        command.SetAction(parsed => Interrupts.Guard(() =>
        {
            var given = parsed.GetValue(input)!;
            var asJson = parsed.GetValue(json);
            var isForced = parsed.GetValue(force);
            var options = Options(parsed.GetValue(tempo), parsed.GetValue(pushed), parsed.GetValue(grid)) with
            {
                Phrasing = parsed.GetValue(backPhrasing) switch { Light => Phrasing.Light, Strong => Phrasing.Strong, _ => Phrasing.Plain },
                Writing = parsed.GetValue(written) switch { Literal => DelayWriting.Literal, Rounded => DelayWriting.Rounded, _ => DelayWriting.Plain },
            };
            if (parsed.GetValue(rank))
            {
                var wanted = parsed.GetValue(to) is { } meter ? Wish(meter, parsed.GetValue(grouping), parsed.GetValue(span), parsed.GetValue(addBeat)) : null;
                if (parsed.GetValue(section) is { Length: > 0 } || (wanted is null && (parsed.GetValue(grouping) ?? parsed.GetValue(span) ?? parsed.GetValue(addBeat)) is not null))
                {
                    throw CommandFailure.BadInput("--rank compares ways for the whole song; leave --section out, and give --grouping, --span and --add-beat only with --to");
                }

                RecastRank.Run(given, parsed.GetValue(part), wanted, options, parsed.GetValue(output), asJson, isForced);
                return ExitCodes.Ok;
            }

            var path = parsed.GetValue(output) is not { } target ? null : target == "-" ? DurableFile.StandardOutput : target;
            if (path is not null)
            {
                OutputFile.NeedEnding(path, ".toml");
                OutputFile.Refuse(path, isForced, given);
                if (asJson && DurableFile.IsStream(path))
                {
                    throw CommandFailure.BadInput("--json and -o - both write to standard output; name a file with -o");
                }
            }

            var wish = Wish(
                parsed.GetValue(to) ?? throw CommandFailure.BadInput("--to is missing; name the meter, such as --to 5/8"),
                parsed.GetValue(grouping), parsed.GetValue(span), parsed.GetValue(addBeat));
            var song = RecastInput.Read(given, parsed.GetValue(part), out var remarks);
            try
            {
                options = WithStresses(options, song);
                var treated = Treated(song, wish, parsed.GetValue(section) ?? [], ref options);
                var report = new RecastReport(treated, remarks, options.Phrasing, Finer(treated, options));
                if (path is not null)
                {
                    var text = ImportedChartText.Write(treated.Recasting.Result, [.. report.Heading(StandardInput.NameOf(given))]);
                    OutputFile.NeedWritten(DurableFile.WriteText(path, text, OutputFile.Options(isForced)));
                }

                if (asJson)
                {
                    using var stream = Console.OpenStandardOutput();
                    report.WriteJson(stream, path);
                }
                else
                {
                    var lines = path is null ? Console.Out : OutputFile.Remarks(path);
                    foreach (var line in report.Lines())
                    {
                        lines.WriteLine(line);
                    }
                }
            }
            catch (ChartProblemException problem)
            {
                throw CommandFailure.BadInput($"{StandardInput.NameOf(given)}: {problem.Message}");
            }

            return ExitCodes.Ok;
        }));
        return command;
    }

    /// <summary>The options with the stresses of the song's words.</summary>
    /// <param name="options">The options.</param>
    /// <param name="song">The song.</param>
    internal static RecastOptions WithStresses(RecastOptions options, Chart song)
    {
        var verses = song.Sections.SelectMany(section => section.Endings.Select(ending => ending.Tune).Prepend(section.Tune)).OfType<Tune>().SelectMany(tune => tune.Verses).ToList();
        return verses.Count == 0 ? options : options with { Stresses = EnglishStress.For(verses) };
    }

    private static TreatedSong Treated(Chart song, TreatmentWish wish, string[] sections, ref RecastOptions options)
    {
        var own = new Dictionary<string, Treatment>(StringComparer.Ordinal);
        song = WithPlayingsApart(song, sections);
        foreach (var text in sections)
        {
            var (name, treatment) = OfSection(song, text);
            if (!own.TryAdd(name, treatment))
            {
                throw CommandFailure.BadInput($"--section names {name} twice; give it one treatment");
            }
        }

        // With all sections treated apart the meter of the whole is not needed, and must not stand in the way.
        var treatments = song.Sections.All(section => own.ContainsKey(section.Name)) ? [own[song.Sections[0].Name]] : TreatmentChoice.Treatments(song, wish);
        options = options with { Sections = own };
        return TreatmentChoice.Cheapest(song, treatments, options);
    }

    // The same on a grid of half the distance, for what the report offers; null if no figure turned, if there is no finer grid, or if the song is so long that it would
    // take many times as long as the recasting.
    private static (Span Grid, SongRecasting Song)? Finer(TreatedSong treated, RecastOptions options)
    {
        var grid = Span.Min(options.Grid ?? Span.Of(1, 8), treated.Treatment.To.Unit) / 2;
        var notes = treated.Recasting.Phrases.Sum(phrase => phrase.Onsets.Count);
        if (notes is 0 or > MostNotesForFinerGrid || grid < Span.Of(1, 32) || new RecastMeasures(treated.Recasting).Turned.Count == 0)
        {
            return null;
        }

        try
        {
            return (grid, SongRecast.Of(treated.Recasting.Source, options with { Treatment = treated.Treatment, Grid = grid }));
        }
        catch (ChartProblemException)
        {
            return null;
        }
    }

    // "verse 3" is the third playing of the verse, which becomes a section of its own.
    private static Chart WithPlayingsApart(Chart song, string[] sections)
    {
        foreach (var name in sections.Select(text => text.Split('=')[0].Trim()).OrderByDescending(name => name, StringComparer.Ordinal))
        {
            if (PlayingsApart.Meant(song, name) is { } meant)
            {
                song = PlayingsApart.Divided(song, meant.Section, meant.Playing).Chart;
            }
        }

        return song;
    }

    private static (string Name, Treatment Treatment) OfSection(Chart song, string text)
    {
        const string Example = "write --section \"verse=5/8:half-bar\" or \"verse=5/4:add-beat 4\"";
        var equals = text.IndexOf('=', StringComparison.Ordinal);
        if (equals <= 0)
        {
            throw CommandFailure.BadInput($"--section: '{text}' names no section and meter; {Example}");
        }

        var name = text[..equals].Trim();
        var known = song.Sections.FirstOrDefault(section => string.Equals(section.Name, name, StringComparison.OrdinalIgnoreCase))?.Name
            ?? (PlayingsApart.Meant(song, name) is { } meant ? song.Sections[meant.Section].Name : null)
            ?? throw CommandFailure.BadInput($"--section: {Music.Wording.Words.Unknown("section", name, song.Sections.Select(section => section.Name))}");
        var colon = text.IndexOf(':', equals);
        var how = colon < 0 ? null : text[(colon + 1)..].Trim();
        var meter = text[(equals + 1)..(colon < 0 ? text.Length : colon)].Trim();
        var isAdded = how?.StartsWith(AddBeatWord, StringComparison.Ordinal) == true;
        if (how is not null && !isAdded && !Spans.Contains(how))
        {
            throw CommandFailure.BadInput($"--section: '{how}' is not {Beat}, {HalfBar}, {Bar} or {AddBeatWord} N; {Example}");
        }

        var wish = Wish(meter, null, isAdded ? null : how, isAdded ? how![AddBeatWord.Length..].Trim(' ', '-', '=') : null, "--section");
        return (known, TreatmentChoice.Cheapest(
            song with { Sections = [song.Sections.First(section => section.Name == known)], Form = [new FormStep(0, 1)], Tag = [] },
            TreatmentChoice.Treatments(song, wish, known), new RecastOptions(new Treatment(new BarMeter(wish.To, Grouping.Undivided(wish.To.Numerator)), SourceSpan.Bar))).Treatment);
    }

    private static TreatmentWish Wish(string meter, string? grouping, string? span, string? addBeat, string option = "--to")
    {
        if (!BarMeter.TryParse(meter, out var read, out var problem))
        {
            throw CommandFailure.BadInput($"{option}: {problem}");
        }

        var groups = MeterMark.HasGrouping(meter) ? read.Grouping : null;
        if (grouping is not null)
        {
            if (!Grouping.TryParse(grouping, read.Units, out var said, out var wrong))
            {
                throw CommandFailure.BadInput("--grouping: " + wrong);
            }

            if (groups is not null && !groups.Equals(said))
            {
                throw CommandFailure.BadInput($"--to says {groups} and --grouping says {said}; write the grouping once");
            }

            groups = said;
        }

        int? after = null;
        if (addBeat is not null && addBeat != Stretch)
        {
            after = int.TryParse(addBeat, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number is > 0 and <= 64
                ? number
                : throw CommandFailure.BadInput($"--add-beat: '{addBeat}' is not the number of a beat; write --add-beat 4, or --add-beat stretch");
        }

        if (addBeat is not null && span is not null && span != Bar)
        {
            throw CommandFailure.BadInput("--add-beat makes a bar of each bar; leave --span out");
        }

        return new TreatmentWish(read.Signature)
        {
            Grouping = groups,
            BeatAfter = after,
            Span = addBeat == Stretch ? SourceSpan.Bar : span switch { Beat => SourceSpan.Beat, HalfBar => SourceSpan.HalfBar, Bar => SourceSpan.Bar, _ => null },
        };
    }

    private static RecastOptions Options(string? tempo, string? pushed, string? grid)
    {
        var options = new RecastOptions(new Treatment(new BarMeter(new TimeSignature(1, 4), Grouping.Undivided(1)), SourceSpan.Bar)) { Straighten = pushed == Straighten };
        if (grid is not null)
        {
            options = options with
            {
                Grid = NoteValue.TryParse(grid, out var step) ? step : throw CommandFailure.BadInput($"--grid: '{grid}' is not a note value; write eighth or sixteenth"),
            };
        }

        return tempo switch
        {
            null => options,
            "length" => options with { Tempo = RecastTempo.SameLength },
            "notes" => options with { Tempo = RecastTempo.SameNotes },
            _ => options with
            {
                Start = TempoText.TryMark(tempo, out var mark, out var problem) ? mark : throw CommandFailure.BadInput($"--tempo: {problem}; or write length or notes"),
            },
        };
    }
}
