using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;
using GrooveLab.Exchange.Import;
using GrooveLab.Exchange.Scores;
using GrooveLab.Files;
using GrooveLab.Music.Charts;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Wording;

namespace GrooveLab.Commands;

/// <summary>What became of a score: the chart, the singer's view of its tune, what was inferred and what was not carried over.</summary>
/// <param name="Format">The score's format.</param>
/// <param name="Reading">What its reader said.</param>
internal sealed record ImportReport(ScoreFormat Format, ScoreReading Reading)
{
    private const int MostKeys = 3;

    /// <summary>The chart; null if the score was refused.</summary>
    public SongChart? Song { get; init; }

    /// <summary>The chart's text; null if the score was refused.</summary>
    public string? Text { get; init; }

    /// <summary>Why no chart can be made from the music; null if one was.</summary>
    public string? Refusal { get; init; }

    /// <summary>The file to which the chart is written; empty for none.</summary>
    public string Target { get; init; } = string.Empty;

    /// <summary>The singer's range; null if not given.</summary>
    public (Pitch Low, Pitch High)? Singer { get; init; }

    /// <summary>All reasons for a refusal.</summary>
    public IEnumerable<string> Errors => Reading.Errors.Select(error => error.ToString()).Concat(Refusal is null ? [] : [Refusal]);

    /// <summary>What the chart lacks or has differently.</summary>
    public IEnumerable<string> NotCarriedOver => NotCarried();

    private IReadOnlyList<SuggestedKey> Keys => Singer is { } singer && Song is { View: { } view } ? SingersKeys.Suggested(view, Song.Chart.Key, singer.Low, singer.High) : [];

    /// <summary>The report in lines; empty for a refusal.</summary>
    public IEnumerable<string> Lines()
    {
        if (Song is not { } song)
        {
            yield break;
        }

        foreach (var warning in Reading.Warnings)
        {
            yield return warning.ToString();
        }

        var chart = song.Chart;
        var sections = chart.Sections.Select(section => $"{section.Name} ({Words.Count(section.Bars.Count, "bar")})");
        var meters = chart.Sections.SelectMany(section => section.Bars).Select(bar => bar.Meter.Signature.ToString()).Distinct();
        yield return $"{(Target.Length == 0 || DurableFile.IsStream(Target) ? "chart" : Target)}: {chart.Title}, {chart.Key}, {string.Join(" ", meters)}, {chart.Tempo}";
        yield return $"sections: {string.Join(", ", sections)}";
        if (song.View is { } view)
        {
            yield return $"tune: from part {song.TunePart}, {view.Lowest} to {view.Highest}, mostly {view.MostlyFrom} to {view.MostlyTo}";
        }
        else
        {
            yield return "tune: none";
        }

        if (Singer is { } singer && song.View is not null)
        {
            yield return Keys.Count == 0
                ? $"range {singer.Low} to {singer.High}: the tune has a wider range"
                : $"range {singer.Low} to {singer.High}: {string.Join(", ", Keys.Take(MostKeys).Select(key => key.Up == 0 ? $"{key.Key} as written" : string.Create(CultureInfo.InvariantCulture, $"{key.Key} (--up {key.Up})")))}";
        }

        if (song.Inferred.Count > 0)
        {
            yield return $"chords: {song.Inferred.Count} inferred from the notes, marked in the chart";
        }

        foreach (var missing in NotCarried())
        {
            yield return "not carried over: " + missing;
        }
    }

    /// <summary>Writes the report as JSON.</summary>
    public void WriteJson(Stream to)
    {
        using var json = new Utf8JsonWriter(to, new JsonWriterOptions { Indented = true, Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping });
        json.WriteStartObject();
        json.WriteString("format", ScoreFiles.Words[(int)Format]);
        json.WriteBoolean("imported", Text is not null);
        Strings(json, "errors", Errors);
        Strings(json, "warnings", Reading.Warnings.Select(warning => warning.ToString()));
        if (Song is { } song)
        {
            WriteSong(json, song);
        }

        Strings(json, "notCarried", NotCarried());
        json.WriteEndObject();
        json.Flush();
        to.WriteByte((byte)'\n');
    }

    private IEnumerable<string> NotCarried() => Reading.NotCarried.Select(one => one.ToString())
        .Concat(Song?.NotCarried.Select(one => one.Place is null ? one.What : new ScoreRemark(one.Place, one.What, string.Empty).ToString()) ?? []);

    private void WriteSong(Utf8JsonWriter json, SongChart song)
    {
        var chart = song.Chart;
        if (Target.Length > 0)
        {
            json.WriteString("chart", Target);
        }

        json.WriteString("title", chart.Title);
        json.WriteString("key", chart.Key.ToString());
        json.WriteString("tempo", chart.Tempo.ToString());
        json.WriteStartArray("sections");
        foreach (var section in chart.Sections)
        {
            json.WriteStartObject();
            json.WriteString("name", section.Name);
            json.WriteNumber("bars", section.Bars.Count);
            Strings(json, "meters", section.Bars.Select(bar => bar.Meter.ToString()).Distinct());
            json.WriteNumber("verses", section.Tune?.Verses.Count ?? 0);
            json.WriteEndObject();
        }

        json.WriteEndArray();
        WriteMeters(json, chart);
        if (song.View is { } view)
        {
            json.WriteStartObject("tune");
            json.WriteString("part", song.TunePart);
            json.WriteString("lowest", view.Lowest.ToString());
            json.WriteString("highest", view.Highest.ToString());
            json.WriteString("mostlyFrom", view.MostlyFrom.ToString());
            json.WriteString("mostlyTo", view.MostlyTo.ToString());
            json.WriteEndObject();
        }

        if (Singer is not null)
        {
            json.WriteStartArray("suggestedKeys");
            foreach (var key in Keys)
            {
                json.WriteStartObject();
                json.WriteNumber("up", key.Up);
                json.WriteString("key", key.Key.ToString());
                json.WriteEndObject();
            }

            json.WriteEndArray();
        }

        json.WriteStartArray("inferredChords");
        foreach (var chord in song.Inferred)
        {
            json.WriteStartObject();
            json.WriteString("section", chart.Sections[chord.Section].Name);
            json.WriteNumber("bar", chord.Bar + 1);
            json.WriteNumber("chord", chord.Span + 1);
            json.WriteNumber("confidence", Math.Round(chord.Confidence, 3));
            Strings(json, "alternatives", chord.Alternatives.Select(other => other.ToString()));
            json.WriteEndObject();
        }

        json.WriteEndArray();
    }

    // The meter at the start of each section and ending, and wherever it changes in them; bars from 1, as the section counts them.
    private static void WriteMeters(Utf8JsonWriter json, Chart chart)
    {
        json.WriteStartArray("meters");
        foreach (var section in chart.Sections)
        {
            Write(section.Bars, section, null, 0);
            for (var e = 0; e < section.Endings.Count; e++)
            {
                Write(section.Endings[e].Bars, section, e + 1, section.Bars.Count);
            }
        }

        json.WriteEndArray();

        void Write(IReadOnlyList<ChartBar> bars, Section section, int? ending, int before)
        {
            for (var i = 0; i < bars.Count; i++)
            {
                if (i > 0 && bars[i].Meter == bars[i - 1].Meter)
                {
                    continue;
                }

                json.WriteStartObject();
                json.WriteString("section", section.Name);
                if (ending is { } number)
                {
                    json.WriteNumber("ending", number);
                }

                json.WriteNumber("bar", before + i + 1);
                json.WriteString("meter", bars[i].Meter.ToString());
                json.WriteEndObject();
            }
        }
    }

    private static void Strings(Utf8JsonWriter json, string name, IEnumerable<string> values)
    {
        json.WriteStartArray(name);
        foreach (var value in values)
        {
            json.WriteStringValue(value);
        }

        json.WriteEndArray();
    }
}
