using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Exchange.Import;
using GrooveLab.Files;
using GrooveLab.Inputs;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Recast;
using GrooveLab.Music.Time;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary>Lays the ways of recasting a song side by side.</summary>
internal static class RecastRank
{
    private const int MostCharts = 5;
    private const int Columns = 9;
    private static readonly string[] Heads = ["meter", "cost/note", "strong", "turned", "evened", "unlike", "weak+", "unit ms", "bar s", "felt"];

    /// <summary>Compares the ways and prints them; writes the best few charts into a folder if one is named.</summary>
    /// <param name="given">The song.</param>
    /// <param name="part">The part of a score with the tune; null to choose it.</param>
    /// <param name="wish">The meter to which the comparison is limited; null for all.</param>
    /// <param name="options">What else is asked for.</param>
    /// <param name="folder">The folder for charts; null for none.</param>
    /// <param name="asJson">Whether the comparison is printed as JSON.</param>
    /// <param name="isForced">Whether existing files may be replaced.</param>
    /// <exception cref="CommandFailure">The song cannot be read, or a file cannot be written.</exception>
    public static void Run(string given, string? part, TreatmentWish? wish, RecastOptions options, string? folder, bool asJson, bool isForced)
    {
        var song = RecastInput.Read(given, part, out var remarks);
        IReadOnlyList<RankedTreatment> ranked;
        try
        {
            ranked = TreatmentRanking.Of(song, wish, RecastCommand.WithStresses(options, song));
        }
        catch (ChartProblemException problem)
        {
            throw CommandFailure.BadInput($"{StandardInput.NameOf(given)}: {problem.Message}");
        }

        var written = folder is null ? [] : Write(ranked, given, folder, isForced);
        if (asJson)
        {
            using var stream = Console.OpenStandardOutput();
            WriteJson(stream, ranked, written);
            return;
        }

        foreach (var line in remarks.Concat(Lines(song, ranked)).Concat(written.Select(path => "written: " + path)))
        {
            Console.WriteLine(line);
        }
    }

    // The best of each conversion, the lowest cost of a note first.
    private static List<string> Write(IReadOnlyList<RankedTreatment> ranked, string given, string folder, bool isForced)
    {
        if (folder == "-" || File.Exists(folder))
        {
            throw CommandFailure.BadInput($"-o {folder}: with --rank name a folder for the charts");
        }

        var name = Path.GetFileNameWithoutExtension(StandardInput.NameOf(given));
        var files = ranked.Where(one => one.Rank == 1).OrderBy(one => one.Song.Cost).Take(MostCharts)
            .Select(one => (Path: Path.Combine(folder, $"{name}-{FileWord(one.Song.Treatment)}.toml"), one.Song)).ToList();
        Directory.CreateDirectory(folder);
        foreach (var (path, _) in files)
        {
            OutputFile.Refuse(path, isForced, given);
        }

        foreach (var (path, song) in files)
        {
            var text = ImportedChartText.Write(song.Recasting.Result, [.. new RecastReport(song, []).Heading(StandardInput.NameOf(given))]);
            OutputFile.NeedWritten(DurableFile.WriteText(path, text, OutputFile.Options(isForced)));
        }

        return files.ConvertAll(file => file.Path);
    }

    private static string FileWord(Treatment treatment) => $"{treatment.To}".Replace('/', '-').Replace(' ', '-').Replace('+', '-').Replace("(", string.Empty, StringComparison.Ordinal).Replace(")", string.Empty, StringComparison.Ordinal)
        + (treatment.BeatAfter is { } beat ? string.Create(CultureInfo.InvariantCulture, $"-beat-after-{beat}") : treatment.Span switch
        {
            SourceSpan.Beat => "-by-beat",
            SourceSpan.HalfBar => "-by-half-bar",
            _ => "-by-bar",
        });

    private static IEnumerable<string> Lines(Chart song, IReadOnlyList<RankedTreatment> ranked)
    {
        yield return "Costs compare only within a block: more units in a bar nearly always cost less.";
        var rows = new List<string[]> { Heads };
        var source = new FormPlan(song).BarAt(0);
        var whole = 60 / source.Tempo.WholesPerMinute.ToDouble();
        rows.Add([$"{source.Meter} (as it is)", "0", "", "0", "0", "0", "0", Number($"{source.Meter.Unit.Wholes.ToDouble() * whole * 1000:0}"), Number($"{source.Meter.Length.Wholes.ToDouble() * whole:0.00}"), Felt(source)]);
        string? block = null;
        foreach (var one in ranked)
        {
            var treatment = one.Song.Treatment;
            var words = Block(treatment);
            if (words != block)
            {
                rows.Add([words]);
                block = words;
            }

            var measures = one.Measures;
            var seconds = measures.BarSeconds(one.Song.Recasting.Stretches[0]);
            rows.Add([
                treatment.To.Grouping + (treatment.BeatAfter is { } beat ? Number($", after {beat}") : string.Empty), Number($"{one.Song.CostPerNote:0.000}"),
                Number($"{measures.StrongBeatsKept}/{measures.StrongBeats}"), Number($"{measures.Turned.Count(figure => figure.IsReversed)}"),
                Number($"{measures.Turned.Count(figure => !figure.IsReversed)}"), Number($"{one.Song.Recasting.Places.UnlikeFigures}"), Number($"{measures.WeakLengthened.Count}"),
                Number($"{seconds * 1000 / treatment.To.Units:0}"), Number($"{seconds:0.00}"), Felt(new FormPlan(one.Song.Recasting.Result).BarAt(0)),
            ]);
        }

        var widths = Enumerable.Range(0, Columns).Select(column => rows.Where(row => row.Length > 1).Max(row => row[column].Length)).ToList();
        foreach (var row in rows)
        {
            yield return row.Length == 1 ? row[0] : string.Join("  ", row.Select((cell, i) => i == 0 ? "  " + cell.PadRight(widths[0]) : i < Columns ? cell.PadLeft(widths[i]) : cell));
        }

        yield return "turned: figures long-short made short-long; weak+: weak syllables longer than a stressed neighbour";
    }

    private static string Block(Treatment treatment) =>
        treatment.BeatAfter is not null ? $"{treatment.To.Signature}, a beat added" : $"{treatment.To.Signature}, " + treatment.Words[(treatment.Words.IndexOf(',', StringComparison.Ordinal) + 2)..];

    private static string Felt(BarPlace place) => FeltTempo.Of(place.Felt, place.Meter, place.Tempo, place.GroupPlace).In;

    private static string Number(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static void WriteJson(Stream to, IReadOnlyList<RankedTreatment> ranked, List<string> written)
    {
        using var json = new Utf8JsonWriter(to, new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        json.WriteStartObject();
        json.WriteStartArray("ranking");
        foreach (var one in ranked)
        {
            var measures = one.Measures;
            json.WriteStartObject();
            json.WriteString("meter", one.Song.Treatment.To.Signature.ToString());
            json.WriteString("grouping", one.Song.Treatment.To.Grouping.ToString());
            json.WriteString("conversion", Block(one.Song.Treatment));
            json.WriteString("treatment", one.Song.Treatment.Words);
            json.WriteNumber("rank", one.Rank);
            json.WriteNumber("cost", one.Song.PlacesCost);
            json.WriteNumber("costPerNote", one.Song.CostPerNote);
            json.WriteNumber("strongBeats", measures.StrongBeats);
            json.WriteNumber("strongBeatsKept", measures.StrongBeatsKept);
            json.WriteNumber("reversedFigures", measures.Turned.Count(figure => figure.IsReversed));
            json.WriteNumber("evenedFigures", measures.Turned.Count(figure => !figure.IsReversed));
            json.WriteNumber("unlikeFigures", one.Song.Recasting.Places.UnlikeFigures);
            json.WriteNumber("weakOnStrong", measures.WeakOnStrong.Count);
            json.WriteNumber("weakLengthened", measures.WeakLengthened.Count);
            json.WriteNumber("unitSeconds", measures.BarSeconds(one.Song.Recasting.Stretches[0]) / one.Song.Treatment.To.Units);
            json.WriteNumber("barSeconds", measures.BarSeconds(one.Song.Recasting.Stretches[0]));
            json.WriteString("felt", new FormPlan(one.Song.Recasting.Result).BarAt(0).Felt.Name());
            json.WriteEndObject();
        }

        json.WriteEndArray();
        json.WriteStartArray("charts");
        foreach (var path in written)
        {
            json.WriteStringValue(path);
        }

        json.WriteEndArray();
        json.WriteEndObject();
        json.Flush();
        to.WriteByte((byte)'\n');
    }
}
